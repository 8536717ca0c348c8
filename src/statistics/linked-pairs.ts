/**
 * Limits of agreement from several pairs a patient, each of about one moment, while the true value moves:
 * Bland and Altman 1999, section 5.3, and Agreement between methods of measurement with multiple
 * observations per individual, Journal of Biopharmaceutical Statistics 2007;17:571-82. What a ward sends is
 * of this kind. One-way analysis of variance of the differences: the spread between patients and the spread
 * within them together make the spread of single differences.
 */
import type { Agreement, Interval } from './limits-of-agreement.js';
import { limitsOfAgreement } from './limits-of-agreement.js';
import { chiSquareQuantile, studentQuantile } from './distributions.js';
import { mean, sum, sumOfSquares } from './summary.js';

export interface LinkedAgreement extends Agreement {
  /** Standard deviations between patients, and within one patient. */
  readonly betweenPatients: number;
  readonly withinPatients: number;
}

/** A part of a variance, and the degrees of freedom that it was estimated with. */
export interface Part {
  readonly variance: number;
  readonly df: number;
}

interface Estimate {
  readonly bias: number;
  /** Its standard error. */
  readonly biasError: number;
  /** The variance of single differences, and the parts of which it is the sum. */
  readonly variance: number;
  readonly parts: readonly Part[];
}

/**
 * Intervals of 95 % around both limits, from those of the bias and of each part of the variance: the method
 * of variance estimates recovery, Zou, Statistical Methods in Medical Research 2013;22:630-42. They reach
 * farther outwards than inwards.
 */
export function limitIntervals({ bias, biasError, variance, parts }: Estimate): {
  readonly limits: Interval;
  readonly lowerInterval: Interval;
  readonly upperInterval: Interval;
} {
  const deviation = Math.sqrt(variance);
  const reachOf = (share: number): number =>
    Math.sqrt(
      sum(
        parts.map(({ variance: part, df }) => {
          return part === 0 ? 0 : (part * (df / chiSquareQuantile(share, df) - 1)) ** 2;
        }),
      ),
    );
  const largest = Math.sqrt(variance + reachOf(0.025));
  const least = Math.sqrt(Math.max(0, variance - reachOf(0.975)));
  const outwards = 1.96 * Math.hypot(biasError, largest - deviation);
  const inwards = 1.96 * Math.hypot(biasError, deviation - least);
  const low = bias - 1.96 * deviation;
  const high = bias + 1.96 * deviation;
  return {
    limits: { low, high },
    lowerInterval: { low: low - outwards, high: low + inwards },
    upperInterval: { low: high - inwards, high: high + outwards },
  };
}

/**
 * From the differences of each patient. Null: fewer than two patients, since one tells nothing of others.
 * With one pair a patient it is the same as `limitsOfAgreement`. Where patients differ less than chance
 * alone would make them, the spread between them counts as none.
 */
export function linkedAgreement(patients: readonly (readonly number[])[]): LinkedAgreement | null {
  const groups = patients.filter(({ length }) => length > 0);
  const k = groups.length;
  const all = groups.flat();
  const n = all.length;
  if (k < 2) return null;
  if (n === k) {
    const plain = limitsOfAgreement(all);
    return plain && { ...plain, betweenPatients: plain.standardDeviation, withinPatients: 0 };
  }
  const bias = mean(all);
  const within = sum(groups.map((group) => sumOfSquares(group))) / (n - k);
  const between = sum(groups.map((group) => group.length * (mean(group) - bias) ** 2)) / (k - 1);
  const squares = sum(groups.map(({ length }) => length ** 2));
  const perPatient = (n * n - squares) / ((k - 1) * n);
  const ofPatients = Math.max(0, (between - within) / perPatient);
  const total = ofPatients + within;
  const biasError = Math.sqrt((ofPatients * squares) / n ** 2 + within / n);
  const biasReach = studentQuantile(0.975, k - 1) * biasError;
  const parts: readonly Part[] =
    ofPatients === 0
      ? [{ variance: within, df: n - k }]
      : [
          { variance: between / perPatient, df: k - 1 },
          { variance: (1 - 1 / perPatient) * within, df: n - k },
        ];
  return {
    pairs: n,
    patients: k,
    bias,
    standardDeviation: Math.sqrt(total),
    biasInterval: { low: bias - biasReach, high: bias + biasReach },
    ...limitIntervals({ bias, biasError, variance: total, parts }),
    betweenPatients: Math.sqrt(ofPatients),
    withinPatients: Math.sqrt(within),
  };
}
