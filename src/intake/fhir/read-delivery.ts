/** The resources of a delivery, each by its type, and what they come to together. */
import type { Delivery, EntryFate } from './delivery.js';
import { makeSets, mergeParts } from './make-sets.js';
import { readEntry, type TakePlaces } from './read-entry.js';
import { ReferenceMap } from './references.js';
import { AskedRegister, type Questions, type Register } from './register.js';
import type { SentEntry, Surroundings } from './sent-entry.js';
import { applyStatuses } from './told-status.js';

/** What has to be asked of the register before the delivery can be read. */
export function questionsOf(entries: readonly SentEntry[], around: Surroundings): Questions {
  const asked = new AskedRegister();
  readDelivery(entries, around, asked);
  return asked.questions();
}

/** Reads the resources; the form of those that are Observations was checked. */
export function readDelivery(
  entries: readonly SentEntry[],
  around: Surroundings,
  register: Register,
): Delivery {
  const resolving = { references: new ReferenceMap(entries, around), register, around };
  const take = placeGiver(entries);
  const read = entries.map((entry) => readEntry(entry, resolving, take));
  const statuses = read.flatMap(({ status }) => status ?? []);
  const told = applyStatuses(
    read.flatMap(({ readings }) => readings),
    statuses,
  );
  const { readings, moved } = mergeParts(told.readings);
  return {
    sets: makeSets(
      readings,
      read.flatMap(({ unread }) => unread),
    ),
    clocks: read.flatMap(({ clock }) => clock ?? []),
    fates: read.map(({ fate, status }) =>
      status !== null && told.idle.has(status.entry) ? IDLE : movedFate(fate, moved),
    ),
  };
}

/** What it doubts was not sent with it, and nothing is kept to be doubted. */
const IDLE: EntryFate = {
  kind: 'unread',
  reason: 'not-a-vital-sign',
  message: 'It is a status of readings that were not sent with it.',
};

/** Each entry's own place, and places beyond the last entry for what stands beside it. */
function placeGiver(entries: readonly SentEntry[]): TakePlaces {
  let next = Math.max(0, ...entries.map(({ index }) => index + 1));
  return ({ index }, count) => {
    const others = Array.from({ length: count - 1 }, (_, i) => next + i);
    next += others.length;
    return [index, ...others];
  };
}

function movedFate(fate: EntryFate, moved: ReadonlyMap<number, number>): EntryFate {
  if (fate.kind !== 'reading') return fate;
  const [own, ...others] = fate.places;
  return { kind: 'reading', places: [moved.get(own) ?? own, ...others] };
}
