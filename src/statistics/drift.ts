/**
 * Charts that show whether a difference has moved from where it was: NIST/SEMATECH e-Handbook of Statistical
 * Methods, 6.3.2.4 (EWMA) and 6.3.2.3 (CUSUM).
 */

/** What was usual before: the middle and spread of single values. */
export interface Usual {
  readonly middle: number;
  readonly deviation: number;
}

export type Side = 'high' | 'low';

export interface WeightedPoint {
  readonly weighted: number;
  /** On which side it is beyond the limits; null: within. */
  readonly signal: Side | null;
}

export interface WeightedAverages {
  readonly low: number;
  readonly high: number;
  /** One a value. */
  readonly points: readonly WeightedPoint[];
}

/**
 * Averages that remember: each is `weight` (0 to 1) of the new value and the rest of the average before,
 * from the middle on. The limits are middle ± deviations · s · √(weight / (2 - weight)).
 */
export function weightedAverages(
  values: readonly number[],
  { middle, deviation }: Usual,
  { weight = 0.2, deviations = 3 }: { readonly weight?: number; readonly deviations?: number } = {},
): WeightedAverages {
  const reach = deviations * deviation * Math.sqrt(weight / (2 - weight));
  const [low, high] = [middle - reach, middle + reach];
  let weighted = middle;
  const points = values.map((value) => {
    weighted = weight * value + (1 - weight) * weighted;
    const side = weighted > high ? 'high' : 'low';
    return { weighted, signal: weighted > high || weighted < low ? side : null } as const;
  });
  return { low, high, points };
}

export interface SummedPoint {
  /** How far values above and below what was usual have piled up, never below 0. */
  readonly high: number;
  readonly low: number;
  readonly signal: Side | null;
  /** Index of the value with which the sum that gives the signal began to grow; null: no signal. */
  readonly since: number | null;
}

/** Both in the unit of the values: what each value is allowed, and how much may pile up. */
export interface SumLimits {
  readonly allowance: number;
  readonly decision: number;
}

/**
 * k = 0.5 s and h = 5 s: a shift by one standard deviation is found after ten values on average, a false
 * alarm comes every 465 (Montgomery, Introduction to Statistical Quality Control, table 9.3; from memory).
 */
export function usualSumLimits({ deviation }: Usual): SumLimits {
  return { allowance: 0.5 * deviation, decision: 5 * deviation };
}

export function cumulativeSums(
  values: readonly number[],
  middle: number,
  { allowance, decision }: SumLimits,
): readonly SummedPoint[] {
  const sums = { high: 0, low: 0 };
  const begun = { high: 0, low: 0 };
  const add = (side: Side, beyond: number, at: number): void => {
    if (sums[side] === 0) begun[side] = at;
    sums[side] = Math.max(0, sums[side] + beyond - allowance);
  };
  return values.map((value, at) => {
    add('high', value - middle, at);
    add('low', middle - value, at);
    const larger: Side = sums.high >= sums.low ? 'high' : 'low';
    const signal = sums[larger] > decision ? larger : null;
    return { ...sums, signal, since: signal && begun[signal] };
  });
}
