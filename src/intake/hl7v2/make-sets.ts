import type { DeliveredSet, Identifier } from '../../vitals/shapes.js';
import type { JoinedReading } from './join-pressures.js';
import type { UnreadOutcome } from './row-reading.js';
import { toReading } from './to-reading.js';

/** What a patient group says of all its readings. */
export type GroupSubject = Pick<DeliveredSet, 'patient' | 'encounter' | 'location'>;

/** One set an operator, so that each reading has the right one; the one with the first row comes first. */
export function makeSets(
  subject: GroupSubject,
  joined: readonly JoinedReading[],
  unread: readonly UnreadOutcome[],
): readonly DeliveredSet[] {
  const sets = new Map<
    string,
    { recorder: Identifier | null; joined: JoinedReading[]; unread: UnreadOutcome[] }
  >();
  const setOf = (recorder: Identifier | null) => {
    const key = JSON.stringify(recorder);
    const there = sets.get(key);
    if (there !== undefined) return there;
    const made = { recorder, joined: [], unread: [] };
    sets.set(key, made);
    return made;
  };
  for (const reading of joined) setOf(reading.rows[0].recorder).joined.push(reading);
  for (const row of unread) setOf(row.recorder).unread.push(row);
  return [...sets.values()]
    .map((set) => makeSet(subject, set))
    .sort((one, other) => firstIndex(one) - firstIndex(other));
}

function makeSet(
  subject: GroupSubject,
  set: {
    recorder: Identifier | null;
    joined: readonly JoinedReading[];
    unread: readonly UnreadOutcome[];
  },
): DeliveredSet {
  const readings = set.joined
    .map(toReading)
    .sort((one, other) => (one.index ?? 0) - (other.index ?? 0));
  const unread = set.unread.map((row) => row.unread);
  return {
    ...subject,
    ...recorderOf(set.recorder),
    takenAt: latestTime(set.joined),
    readings,
    ...(unread.length > 0 && { unread }),
  };
}

/** The latest time of the readings, if every one has one. */
function latestTime(joined: readonly JoinedReading[]): string | null {
  let latest: { readonly takenAt: string; readonly epochMs: number } | null = null;
  for (const { rows } of joined) {
    const { takenAt, epochMs } = rows[0].time;
    if (takenAt === undefined || epochMs === undefined) return null;
    if (latest === null || epochMs > latest.epochMs) latest = { takenAt, epochMs };
  }
  return latest?.takenAt ?? null;
}

function firstIndex({ readings, unread = [] }: DeliveredSet): number {
  return Math.min(readings[0]?.index ?? Infinity, unread[0]?.index ?? Infinity);
}

export function recorderOf(recorder: Identifier | null): Pick<DeliveredSet, 'recorder'> {
  return recorder === null ? {} : { recorder: { identifier: recorder } };
}
