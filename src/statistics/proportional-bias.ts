/** Whether the difference grows with the size of what is measured: its regression on the mean of the two. */
import { studentQuantile, studentTwoTails } from './distributions.js';
import type { Interval } from './limits-of-agreement.js';
import { around } from './limits-of-agreement.js';
import { mean, sum, sumOfSquares } from './summary.js';

export interface ProportionalBias {
  readonly intercept: number;
  /** Change of the difference with one unit more of the mean. */
  readonly slope: number;
  readonly slopeInterval: Interval;
  /** The chance of such a slope, or a steeper one, where there is none; two-sided. */
  readonly p: number;
}

/**
 * Bland and Altman 1999, section 3.2, by ordinary least squares with n - 2 degrees of freedom. Pairs of one
 * patient are counted as if they were of several, so that the interval is rather too narrow. Null: fewer
 * than three pairs, or means that are all the same.
 */
export function proportionalBias(
  pairs: readonly { readonly mean: number; readonly difference: number }[],
): ProportionalBias | null {
  const df = pairs.length - 2;
  const means = pairs.map((pair) => pair.mean);
  const differences = pairs.map((pair) => pair.difference);
  const middle = mean(means);
  const spread = sumOfSquares(means, middle);
  if (df < 1 || spread === 0) return null;
  const height = mean(differences);
  const slope =
    sum(pairs.map((pair) => (pair.mean - middle) * (pair.difference - height))) / spread;
  const intercept = height - slope * middle;
  const left = sum(pairs.map((pair) => (pair.difference - intercept - slope * pair.mean) ** 2));
  const error = Math.sqrt(left / df / spread);
  const straight = slope === 0 ? 1 : 0;
  return {
    intercept,
    slope,
    slopeInterval: around(slope, studentQuantile(0.975, df) * error),
    p: error === 0 ? straight : studentTwoTails(slope / error, df),
  };
}
