/** Finds the readings that measured the same thing in two ways at about the same time. */
import { COMPARED_WITHIN_MS } from '../vitals/limits-agreement.js';
import type { EarlierReading, JudgingContext, Reading } from '../vitals/shapes.js';
import type { Method, Vital } from '../vitals/words.js';
import type { ReadingFacts } from './rule.js';

/** One reading by each of two kinds of method. One of them, at most, was kept before. */
export interface Pair {
  readonly byHand: Reading;
  readonly byDevice: Reading;
  readonly earlier: EarlierReading | null;
}

interface Comparison {
  readonly vital: Vital;
  readonly byHand: readonly Method[];
  readonly byDevice: readonly Method[];
}

/** Pairs inside the set, then pairs of a reading of the set with one that was kept before. */
export function findPairs(
  { vital, byHand, byDevice }: Comparison,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Pair[] {
  const isByHand = ({ method }: Reading): boolean => method !== null && byHand.includes(method);
  const isByDevice = ({ method }: Reading): boolean => method !== null && byDevice.includes(method);

  const own = standing
    .filter(({ reading, slip }) => reading.vital === vital && slip === null)
    .map(({ reading }) => reading);
  const earlier = context.earlier.filter((kept) => kept.vital === vital && isComparable(kept));

  const pairs: Pair[] = [];
  for (const reading of own) {
    if (isByHand(reading)) {
      for (const other of own) {
        if (isByDevice(other)) pairs.push({ byHand: reading, byDevice: other, earlier: null });
      }
      for (const kept of earlier) {
        if (isByDevice(kept)) pairs.push({ byHand: reading, byDevice: kept, earlier: kept });
      }
    } else if (isByDevice(reading)) {
      for (const kept of earlier) {
        if (isByHand(kept)) pairs.push({ byHand: kept, byDevice: reading, earlier: kept });
      }
    }
  }
  return pairs.filter((pair) => areNear(pair.byHand, pair.byDevice));
}

/** A reading that is rejected, of a doubtful unit or patient, or withdrawn tells nothing about another. */
export function isComparable({ verdict, hold, status }: EarlierReading): boolean {
  return (
    verdict !== 'rejected' &&
    hold !== 'identity' &&
    hold !== 'unit' &&
    status !== 'entered-in-error' &&
    status !== 'cancelled'
  );
}

export function areNear(a: Reading, b: Reading): boolean {
  return Math.abs(a.takenAt.epochMs - b.takenAt.epochMs) <= COMPARED_WITHIN_MS;
}

/** Indexes of the readings of this set that a pair names, in order. */
export function ownIndexes({ byHand, byDevice, earlier }: Pair): readonly number[] {
  return [byHand, byDevice]
    .filter((reading) => reading !== earlier)
    .map(({ index }) => index)
    .sort((a, b) => a - b);
}

/** Ids of the kept reading of a pair, as a remark names it. */
export function earlierIds({ earlier }: Pair): { readonly earlier?: readonly string[] } {
  return earlier === null ? {} : { earlier: [earlier.readingId] };
}
