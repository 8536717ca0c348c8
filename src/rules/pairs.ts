/** Finds the readings that measured the same thing in two ways at about the same time. */
import type { EarlierReading, Identifier, JudgingContext, Reading } from '../vitals/shapes.js';
import type { Method, Vital } from '../vitals/words.js';
import { isSameDevice } from './device-delays.js';
import { speaksOfOthers } from './report-doubts.js';
import type { ReadingFacts } from './rule.js';
import { clockTime } from './wording.js';

/** Two readings of one sign. One of them, at most, was kept before. */
export interface Two {
  readonly first: Reading;
  readonly second: Reading;
  readonly earlier: EarlierReading | null;
}

/** One reading by each of two kinds of method. */
export interface Pair {
  readonly byHand: Reading;
  readonly byDevice: Reading;
  readonly earlier: EarlierReading | null;
}

interface Comparison {
  readonly vital: Vital;
  readonly windowMs: number;
  readonly byHand: readonly Method[];
  readonly byDevice: readonly Method[];
}

const NO_TWOS: readonly Two[] = [];
const NO_PAIRS: readonly Pair[] = [];

/**
 * Every two readings of a sign: two of the set, or one of the set and one that was kept before, as near
 * in time as the window says, widened by what devices are registered to be off. Left out is a reading
 * without a number, and one that may not be held against others.
 */
export function findTwos(
  vital: Vital,
  windowMs: number,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Two[] {
  let twos: Two[] | null = null;
  const near = nearness(windowMs, context);
  for (let at = 0; at < standing.length; at += 1) {
    const first = ownReading(standing, at, vital);
    if (first === null) continue;
    for (let next = at + 1; next < standing.length; next += 1) {
      const second = ownReading(standing, next, vital);
      if (second !== null && near(first, second)) {
        (twos ??= []).push({ first, second, earlier: null });
      }
    }
    for (const kept of context.earlier) {
      if (kept.vital !== vital || !hasNumber(kept) || !isComparable(kept)) continue;
      if (near(first, kept)) {
        (twos ??= []).push({ first, second: kept, earlier: kept });
      }
    }
  }
  return twos ?? NO_TWOS;
}

function ownReading(standing: readonly ReadingFacts[], at: number, vital: Vital): Reading | null {
  const facts = standing[at];
  return facts?.reading.vital === vital && hasNumber(facts.reading) && isSound(facts)
    ? facts.reading
    : null;
}

function hasNumber({ values }: Reading): boolean {
  for (const _ in values) return true;
  return false;
}

/** Whether two readings lie as near in time as the window says, as far as the clocks of their devices tell. */
function nearness(
  windowMs: number,
  { devices }: JudgingContext,
): (a: Reading, b: Reading) => boolean {
  const known = devices?.filter(({ registered }) => registered?.timeAccuracyMs);
  if (known === undefined || known.length === 0) return (a, b) => areNear(a, b, windowMs);
  const offMs = ({ device }: Reading): number =>
    known.find((each) => isSameDevice(each.device, device))?.registered?.timeAccuracyMs ?? 0;
  return (a, b) => areNear(a, b, windowMs + offMs(a) + offMs(b));
}

/** Of every two readings of the sign those that were taken in the two ways. */
export function findPairs(
  { vital, windowMs, byHand, byDevice }: Comparison,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Pair[] {
  const twos = findTwos(vital, windowMs, context, standing);
  if (twos.length === 0) return NO_PAIRS;
  const isByHand = ({ method }: Reading): boolean => method !== null && byHand.includes(method);
  const isByDevice = ({ method }: Reading): boolean => method !== null && byDevice.includes(method);
  const pairs: Pair[] = [];
  for (const { first, second, earlier } of twos) {
    if (isByHand(first) && isByDevice(second)) {
      pairs.push({ byHand: first, byDevice: second, earlier });
    } else if (isByDevice(first) && isByHand(second)) {
      pairs.push({ byHand: second, byDevice: first, earlier });
    }
  }
  return pairs;
}

/** A reading of the set whose unit or whose message is in doubt tells nothing about another. */
export function isSound({ reading, slip }: ReadingFacts): boolean {
  return slip === null && speaksOfOthers(reading);
}

/** The same of a kept one, nor does one that is rejected, of a doubtful patient, or withdrawn. */
export function isComparable(kept: EarlierReading): boolean {
  const { verdict, hold, status } = kept;
  return (
    speaksOfOthers(kept) &&
    verdict !== 'rejected' &&
    hold !== 'identity' &&
    hold !== 'unit' &&
    status !== 'entered-in-error' &&
    status !== 'cancelled'
  );
}

export function areNear(a: Reading, b: Reading, windowMs: number): boolean {
  return Math.abs(a.takenAt.epochMs - b.takenAt.epochMs) <= windowMs;
}

/** Two readings support each other only if they differ in method or in device. */
export function isIndependent(a: Reading, b: Reading): boolean {
  const otherMethod = a.method !== null && b.method !== null && a.method !== b.method;
  return otherMethod || isOtherDevice(a.device, b.device);
}

function isOtherDevice(a: Identifier | null, b: Identifier | null): boolean {
  return a !== null && b !== null && !isSameDevice(a, b);
}

/** A side, site or position that one of them does not tell counts as the same. */
export function isSameIfTold<T>(a: T | null, b: T | null): boolean {
  return a === null || b === null || a === b;
}

/** Pressures can be held against each other when arm, place and position are the same as far as told. */
export function isSameArm(a: Reading, b: Reading): boolean {
  return (
    isSameIfTold(a.side, b.side) &&
    isSameIfTold(a.site, b.site) &&
    isSameIfTold(a.position, b.position)
  );
}

/** Indexes of the readings of this set among these, in order. */
export function ownIndexes(
  readings: readonly Reading[],
  earlier: EarlierReading | null,
): readonly number[] {
  return readings
    .filter((reading) => reading !== earlier)
    .map(({ index }) => index)
    .sort((a, b) => a - b);
}

/** Ids of the kept reading of a comparison, as a remark names it. */
export function earlierIds(earlier: EarlierReading | null): {
  readonly earlier?: readonly string[];
} {
  return earlier === null ? {} : { earlier: [earlier.readingId] };
}

/** " at 11:57" for a reading that was kept before, so that it can be told from those of the set. */
export function keptAt(reading: Reading, earlier: EarlierReading | null): string {
  return reading === earlier ? ` at ${clockTime(reading.takenAt)}` : '';
}
