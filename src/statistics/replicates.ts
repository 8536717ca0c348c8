/**
 * Limits of agreement from several measurements by each method on each patient, not taken in pairs, while
 * the true value stays as it is: Bland and Altman 1999, sections 5.1 (as many by each method) and 5.2 (any
 * numbers). The limits are for single measurements.
 */
import type { Agreement } from './limits-of-agreement.js';
import { around } from './limits-of-agreement.js';
import { studentQuantile } from './distributions.js';
import { mean, sum, sumOfSquares, variance } from './summary.js';

export interface Replicates {
  readonly first: readonly number[];
  readonly second: readonly number[];
}

export interface ReplicatedAgreement extends Agreement {
  /** Variances of the one and of the other method within patients. */
  readonly firstWithin: number;
  readonly secondWithin: number;
}

interface Within {
  readonly variance: number;
  readonly df: number;
  /** 1 less the mean of 1/m: the part of the variance that means of m measurements have lost. */
  readonly lost: number;
}

function withinPatients(measurements: readonly (readonly number[])[]): Within {
  const df = sum(measurements.map(({ length }) => length - 1));
  const squares = sum(measurements.map((values) => sumOfSquares(values)));
  return {
    variance: df === 0 ? 0 : squares / df,
    df,
    lost: 1 - mean(measurements.map(({ length }) => 1 / length)),
  };
}

/** The variance of an estimated variance: 2 s⁴/df, of the part that it contributes. */
function errorOf({ variance: within, df, lost }: Within): number {
  return df === 0 ? 0 : (2 * (lost * within) ** 2) / df;
}

/**
 * Null: fewer than two patients, or one without a measurement by either method. The intervals of the limits
 * are those of section 5.1: var(limit) = s²/n + 1.96² var(s), with 1.96 standard errors to each side.
 */
export function replicatedAgreement(patients: readonly Replicates[]): ReplicatedAgreement | null {
  const n = patients.length;
  if (n < 2 || patients.some(({ first, second }) => !first.length || !second.length)) return null;
  const differences = patients.map(({ first, second }) => mean(first) - mean(second));
  const a = withinPatients(patients.map(({ first }) => first));
  const b = withinPatients(patients.map(({ second }) => second));
  const ofMeans = variance(differences);
  const total = ofMeans + a.lost * a.variance + b.lost * b.variance;
  const deviation = Math.sqrt(total);
  const bias = mean(differences);
  const limits = around(bias, 1.96 * deviation);
  const ofDeviation =
    total === 0 ? 0 : ((2 * ofMeans ** 2) / (n - 1) + errorOf(a) + errorOf(b)) / (4 * total);
  const reach = 1.96 * Math.sqrt(total / n + 1.96 ** 2 * ofDeviation);
  return {
    pairs: sum(patients.map(({ first, second }) => Math.min(first.length, second.length))),
    patients: n,
    bias,
    standardDeviation: deviation,
    limits,
    biasInterval: around(bias, studentQuantile(0.975, n - 1) * Math.sqrt(ofMeans / n)),
    lowerInterval: around(limits.low, reach),
    upperInterval: around(limits.high, reach),
    firstWithin: a.variance,
    secondWithin: b.variance,
  };
}
