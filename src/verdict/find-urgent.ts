/** Which held readings must go out at once because a critical value is among those they contradict. */
import { makeAgeTeller } from '../vitals/age.js';
import { isCritical } from '../vitals/interpret.js';
import type { Finding, JudgedReading, JudgingContext } from '../vitals/shapes.js';

/** A reading with what was said about it, before it is seen beside the others. */
export type WeighedReading = Omit<JudgedReading, 'status'>;

interface Urgent {
  readonly indexes: readonly number[];
  /** Kept readings that are held and not yet out. */
  readonly earlierIds: readonly string[];
}

const NOTHING: Urgent = { indexes: [], earlierIds: [] };

/**
 * All that a value hold names, if one of them is critical, or one beside them whose own hold a repeat
 * has lifted. A hold of the whole set names none: there nothing contradicts anything. Of earlier readings
 * only those are told that wait, unpublished, for a decision about their value.
 */
export function findUrgent(
  context: JudgingContext,
  findings: readonly Finding[],
  weighed: readonly WeighedReading[],
): Urgent {
  const doubts = findings.filter(({ hold, beside }) => hold === 'value' || beside !== undefined);
  if (doubts.length === 0) return NOTHING;
  const ageAt = makeAgeTeller(context, false);
  const gender = context.patient?.gender ?? null;
  const indexes = new Set<number>();
  const earlierIds = new Set<string>();
  for (const { readings, beside = [], earlier = [] } of doubts) {
    const own = weighed.filter(
      ({ reading: { index } }) => readings.includes(index) || beside.includes(index),
    );
    const kept = context.earlier.filter(({ readingId }) => earlier.includes(readingId));
    const anyCritical =
      own.some(({ critical }) => critical) ||
      kept.some((each) => isCritical(each, ageAt(each), gender, context.limits));
    if (!anyCritical) continue;
    for (const { reading } of own) indexes.add(reading.index);
    for (const { readingId, verdict, hold, status } of kept) {
      if (verdict === 'held' && hold === 'value' && status === null) earlierIds.add(readingId);
    }
  }
  return { indexes: [...indexes], earlierIds: [...earlierIds] };
}
