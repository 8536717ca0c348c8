/**
 * The few distributions that the figures need. Tails by series and continued fractions (Abramowitz and
 * Stegun, Handbook of Mathematical Functions, 6.5 and 26.5), quantiles by halving an interval: short, and
 * exact to about twelve digits, also far out in a tail.
 */

const LANCZOS = [
  676.5203681218851, -1259.1392167224028, 771.3234287776531, -176.6150291621406, 12.507343278686905,
  -0.13857109526572012, 9.984369578019572e-6, 1.5056327351493116e-7,
];
const TINY = 1e-300;
const STEPS = 500;

function logGamma(x: number): number {
  const shifted = x - 1;
  const series = LANCZOS.reduce(
    (total, weight, at) => total + weight / (shifted + at + 1),
    0.9999999999998099,
  );
  const t = shifted + LANCZOS.length - 0.5;
  return Math.log(Math.sqrt(2 * Math.PI) * series) + (shifted + 0.5) * Math.log(t) - t;
}

/** A continued fraction b0 + a1/(b1 + a2/(b2 + …)) by Lentz's method. */
function continuedFraction(first: number, term: (at: number) => [a: number, b: number]): number {
  let value = first === 0 ? TINY : first;
  let c = value;
  let d = 0;
  for (let at = 1; at <= STEPS; at += 1) {
    const [a, b] = term(at);
    d = 1 / (b + a * d || TINY);
    c = b + a / c || TINY;
    value *= c * d;
    if (Math.abs(c * d - 1) < 1e-16) break;
  }
  return value;
}

/** The upper part of the regularised gamma function, Q(a, x). */
function gammaTail(a: number, x: number): number {
  if (x <= 0) return 1;
  const front = Math.exp(a * Math.log(x) - x - logGamma(a));
  if (x < a + 1) {
    let term = 1 / a;
    let series = term;
    for (let at = 1; at <= STEPS && term > series * 1e-17; at += 1) {
      term *= x / (a + at);
      series += term;
    }
    return 1 - front * series;
  }
  return front / continuedFraction(x + 1 - a, (at) => [-at * (at - a), x + 2 * at + 1 - a]);
}

/** The regularised incomplete beta function I_x(a, b). */
function betaPart(x: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  if (x > (a + 1) / (a + b + 2)) return 1 - betaPart(1 - x, b, a);
  const front = Math.exp(
    logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log(1 - x),
  );
  const fraction = continuedFraction(1, (at) => {
    const m = Math.floor(at / 2);
    const term =
      at % 2 === 0
        ? (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m))
        : (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    return [term, 1];
  });
  return front / (a * fraction);
}

/** Where a function that grows from 0 reaches a target: the interval doubles, then is halved. */
function whereReached(target: number, growing: (x: number) => number): number {
  let high = 1;
  while (growing(high) < target && high < 1e12) high *= 2;
  let low = 0;
  for (let at = 0; at < 200; at += 1) {
    const middle = (low + high) / 2;
    if (growing(middle) < target) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** The chance of a chi-square of `df` degrees of freedom that is as large or larger. */
export function chiSquareTail(x: number, df: number): number {
  return gammaTail(df / 2, x / 2);
}

/** The chi-square below which `share` (0 to 1) lies. */
export function chiSquareQuantile(share: number, df: number): number {
  return whereReached(share, (x) => 1 - chiSquareTail(x, df));
}

/** The chance of a Student's t of `df` degrees of freedom that is as far from 0 or farther, on either side. */
export function studentTwoTails(t: number, df: number): number {
  return betaPart(df / (df + t * t), df / 2, 0.5);
}

/** Student's t below which `share` lies (0.5 to 1): 0.975 for an interval of 95 %. */
export function studentQuantile(share: number, df: number): number {
  return whereReached(2 * share - 1, (t) => 1 - studentTwoTails(t, df));
}

/** The share of a standard normal distribution below `z`. */
export function normalShare(z: number): number {
  const half = gammaTail(0.5, (z * z) / 2) / 2;
  return z < 0 ? half : 1 - half;
}
