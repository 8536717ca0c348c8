/** What a list of numbers is like: middle, spread, order. Nothing here rounds. */

export function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

/** Of no values: not a number. */
export function mean(values: readonly number[]): number {
  return sum(values) / values.length;
}

/** Squared distances from a middle, summed: from their mean, if no other is named. */
export function sumOfSquares(values: readonly number[], about = mean(values)): number {
  return values.reduce((total, value) => total + (value - about) ** 2, 0);
}

/** The sample's variance, with n - 1. Of fewer than two values: not a number. */
export function variance(values: readonly number[]): number {
  return values.length < 2 ? NaN : sumOfSquares(values) / (values.length - 1);
}

export function standardDeviation(values: readonly number[]): number {
  return Math.sqrt(variance(values));
}

/**
 * The value below which a share (0 to 1) lies, interpolated between neighbours: type 7 of Hyndman and Fan,
 * Sample quantiles in statistical packages, The American Statistician 1996;50:361.
 */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = (sorted.length - 1) * share;
  const below = sorted[Math.floor(place)] ?? NaN;
  const above = sorted[Math.ceil(place)] ?? NaN;
  return below + (above - below) * (place - Math.floor(place));
}
