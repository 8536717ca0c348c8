/**
 * Limits of agreement of two ways of measuring, from one pair a patient: Bland and Altman, Statistical
 * methods for assessing agreement between two methods of clinical measurement, Lancet 1986;i:307-10, and
 * Measuring agreement in method comparison studies, Statistical Methods in Medical Research 1999;8:135-60.
 */
import { studentQuantile } from './distributions.js';
import { mean, standardDeviation } from './summary.js';

export interface Interval {
  readonly low: number;
  readonly high: number;
}

/** All in the unit of the differences. The intervals are of 95 %. */
export interface Agreement {
  /** Pairs, and the patients that they are of. */
  readonly pairs: number;
  readonly patients: number;
  /** The mean difference. */
  readonly bias: number;
  /** Of single differences, n - 1. */
  readonly standardDeviation: number;
  /** Between these lie about 95 of 100 differences, if they are spread like a normal distribution. */
  readonly limits: Interval;
  readonly biasInterval: Interval;
  readonly lowerInterval: Interval;
  readonly upperInterval: Interval;
}

/** How many standard deviations make a limit, and how wide a limit's standard error is, in SD/√n. */
export interface Convention {
  readonly deviations: number;
  readonly limitError: number;
}

/** The paper of 1999, section 2.2: 1.96 deviations, and 1.71 SD/√n. */
export const AS_OF_1999: Convention = { deviations: 1.96, limitError: 1.71 };

/** The paper of 1986: two deviations, and √3 SD/√n. */
export const AS_OF_1986: Convention = { deviations: 2, limitError: Math.sqrt(3) };

export function around(middle: number, reach: number): Interval {
  return { low: middle - reach, high: middle + reach };
}

/** Null: fewer than two differences have no spread. */
export function limitsOfAgreement(
  differences: readonly number[],
  { deviations, limitError }: Convention = AS_OF_1999,
): Agreement | null {
  const pairs = differences.length;
  if (pairs < 2) return null;
  const bias = mean(differences);
  const deviation = standardDeviation(differences);
  const t = studentQuantile(0.975, pairs - 1);
  const error = deviation / Math.sqrt(pairs);
  const limits = around(bias, deviations * deviation);
  return {
    pairs,
    patients: pairs,
    bias,
    standardDeviation: deviation,
    limits,
    biasInterval: around(bias, t * error),
    lowerInterval: around(limits.low, t * limitError * error),
    upperInterval: around(limits.high, t * limitError * error),
  };
}
