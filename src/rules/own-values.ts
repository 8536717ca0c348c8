/** A patient's own earlier values of a sign, measured in the very same way. */
import type { Moment, PastReading, Reading } from '../vitals/shapes.js';
import type { Part, Vital } from '../vitals/words.js';
import { clockTime } from './wording.js';

export interface OwnValue {
  readonly past: PastReading;
  readonly value: number;
}

/** The median absolute deviation of a normal distribution, times this, is its standard deviation. */
const MAD_TO_SD = 1.4826;

/**
 * Values before the reading, newest last, of the same sign, method, site, side and position; one that
 * tells one of these and one that does not are not alike. What was held or rejected is no comparison.
 *
 * @param withinMs how long before the reading they may lie
 */
export function ownValues(
  reading: Reading,
  part: Part,
  history: readonly PastReading[],
  withinMs: number,
): readonly OwnValue[] {
  const ofSign = groupBySign(history).get(reading.vital);
  if (ofSign === undefined) return NONE;
  const found: OwnValue[] = [];
  for (const past of ofSign) {
    const value = past.values[part]?.number;
    if (value === undefined || !isSameSeries(past, reading)) continue;
    const agoMs = reading.takenAt.epochMs - past.takenAt.epochMs;
    if (agoMs > 0 && agoMs <= withinMs) found.push({ past, value });
  }
  return found;
}

const NONE: readonly OwnValue[] = [];

const grouped = new WeakMap<readonly PastReading[], Map<Vital, PastReading[]>>();

/** Grouped once a set: many rules look through the same history, each for one sign. */
function groupBySign(history: readonly PastReading[]): ReadonlyMap<Vital, readonly PastReading[]> {
  const known = grouped.get(history);
  if (known !== undefined) return known;
  const groups = new Map<Vital, PastReading[]>();
  for (const past of history) {
    const group = groups.get(past.vital);
    if (group === undefined) groups.set(past.vital, [past]);
    else group.push(past);
  }
  grouped.set(history, groups);
  return groups;
}

function isSameSeries(past: PastReading, reading: Reading): boolean {
  return (
    past.method === reading.method &&
    past.site === reading.site &&
    past.side === reading.side &&
    past.position === reading.position &&
    isUndoubted(past)
  );
}

/** A held or rejected value says nothing about change. */
export function isUndoubted({ verdict }: PastReading): boolean {
  return verdict === 'accepted' || verdict === 'noted';
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  const upper = sorted[middle] ?? Number.NaN;
  return sorted.length % 2 === 1 ? upper : ((sorted[middle - 1] ?? Number.NaN) + upper) / 2;
}

/** The robust standard deviation: 1.4826 times the median distance from the median. */
export function robustDeviation(values: readonly number[]): number {
  const centre = median(values);
  return MAD_TO_SD * median(values.map((value) => Math.abs(value - centre)));
}

/** Hour and minute, with the day where it is another one: "08:15", "2026-03-12 at 08:15". */
export function timeBefore(past: Moment, now: Moment): string {
  const [day, today] = [past, now].map(({ epochMs, offsetMinutes }) =>
    new Date(epochMs + offsetMinutes * 60_000).toISOString().slice(0, 10),
  );
  return day === today ? clockTime(past) : `${day ?? ''} at ${clockTime(past)}`;
}

/** Free of the noise of binary fractions. */
export function withoutNoise(value: number): number {
  return Math.round(value * 1e6) / 1e6;
}
