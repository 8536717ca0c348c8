/** Statistics of numbers, by the codes of the FHIR code system observation-statistics. */

type Statistic = (sorted: readonly number[], totalCount: number) => number | null;

/** Null where there are too few numbers. Quartiles and percentiles lie between two numbers by distance. */
const STATISTICS = {
  average: (sorted) => (sorted.length === 0 ? null : sum(sorted) / sorted.length),
  maximum: (sorted) => sorted.at(-1) ?? null,
  minimum: (sorted) => sorted[0] ?? null,
  count: (sorted) => sorted.length,
  'total-count': (_, totalCount) => totalCount,
  median: (sorted) => quantile(sorted, 0.5),
  'std-dev': deviation,
  sum: (sorted) => (sorted.length === 0 ? null : sum(sorted)),
  '20-percent': (sorted) => quantile(sorted, 0.2),
  '80-percent': (sorted) => quantile(sorted, 0.8),
  '4-lower': (sorted) => quantile(sorted, 0.25),
  '4-upper': (sorted) => quantile(sorted, 0.75),
  '4-dev': (sorted) => {
    const [low, high] = [quantile(sorted, 0.25), quantile(sorted, 0.75)];
    return low === null || high === null ? null : high - low;
  },
} as const satisfies Readonly<Record<string, Statistic>>;

export type StatisticCode = keyof typeof STATISTICS;
export const STATISTIC_CODES = Object.keys(STATISTICS) as readonly StatisticCode[];

/** What the documentation of the operation's parameter calls otherwise than the code system. */
const SHORT: ReadonlyMap<string, StatisticCode> = new Map([
  ['max', 'maximum'],
  ['min', 'minimum'],
]);

/** The statistic that a word stands for; null: none that is reckoned here. */
export function statisticOf(word: string): StatisticCode | null {
  return STATISTIC_CODES.find((code) => code === word) ?? SHORT.get(word) ?? null;
}

/** Whether its value is a number of values, and no value. */
export function isCount(code: StatisticCode): boolean {
  return code === 'count' || code === 'total-count';
}

/**
 * @param numbers in any order
 * @param totalCount how many there were, those without a number counted too
 * @returns rounded to 4 decimals; null: there are too few numbers
 */
export function reckon(
  code: StatisticCode,
  numbers: readonly number[],
  totalCount: number,
): number | null {
  const sorted = [...numbers].sort((one, other) => one - other);
  const value = STATISTICS[code](sorted, totalCount);
  return value === null ? null : Number(value.toFixed(4));
}

function sum(numbers: readonly number[]): number {
  return numbers.reduce((total, one) => total + one, 0);
}

/** Of a sample: by one less than their number. */
function deviation(numbers: readonly number[]): number | null {
  if (numbers.length < 2) return null;
  const mean = sum(numbers) / numbers.length;
  const squares = numbers.map((one) => (one - mean) ** 2);
  return Math.sqrt(sum(squares) / (numbers.length - 1));
}

function quantile(sorted: readonly number[], part: number): number | null {
  const place = (sorted.length - 1) * part;
  const low = sorted[Math.floor(place)];
  const high = sorted[Math.ceil(place)];
  return low === undefined || high === undefined ? null : low + (high - low) * (place % 1);
}
