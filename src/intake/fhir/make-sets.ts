/** Readings that were sent together as sets: all of one patient, visit and recorder are judged together. */
import type { UnreadRow } from '../../vitals/device-report.js';
import type { DeliveredSet } from '../../vitals/shapes.js';
import type { Assembled } from './assemble-reading.js';

/** A row without a reading, and whose it was said to be. */
export type Unread = Pick<Assembled, 'patient'> & { readonly row: UnreadRow & { index: number } };

/** One group a patient, visit and recorder, in the order in which they first stand. */
export function makeSets(
  readings: readonly Assembled[],
  unread: readonly Unread[],
): readonly DeliveredSet[] {
  const groups = new Map<string, Assembled[]>();
  for (const one of readings) {
    const { patient, encounter, recorder } = one;
    const key = JSON.stringify([patient, encounter, recorder]);
    groups.set(key, [...(groups.get(key) ?? []), one]);
  }
  const sets = [...groups.values()].flatMap(([first, ...more]) =>
    first === undefined ? [] : [setOf(first, [first, ...more])],
  );
  return unread.length === 0 ? sets : withRows(sets, unread);
}

function setOf(
  { patient, encounter, recorder }: Assembled,
  group: readonly Assembled[],
): DeliveredSet {
  return {
    patient,
    takenAt: null,
    ...(encounter !== null && { encounter: { identifier: encounter } }),
    ...(recorder !== null && { recorder: { identifier: recorder } }),
    readings: group.map(({ reading }) => reading),
  };
}

/** Rows go with a set of their patient, else with one of their own. */
function withRows(sets: readonly DeliveredSet[], unread: readonly Unread[]): DeliveredSet[] {
  const all = [...sets];
  const placed = new Map<number, Unread['row'][]>();
  for (const { patient, row } of unread) {
    const key = JSON.stringify(patient);
    let at = all.findIndex((set) => JSON.stringify(set.patient) === key);
    if (at === -1) at = all.push({ patient, takenAt: null, readings: [] }) - 1;
    placed.set(at, [...(placed.get(at) ?? []), row]);
  }
  return all.map((set, i) => {
    const rows = placed.get(i);
    return rows === undefined ? set : { ...set, unread: rows };
  });
}

/**
 * Parts of one pressure that came as Observations of their own: same patient, device, time, method and
 * place. They are one reading at the place of the first of them.
 */
export function mergeParts(readings: readonly Assembled[]): {
  readonly readings: readonly Assembled[];
  /** From the place of a part to that of the reading into which it went. */
  readonly moved: ReadonlyMap<number, number>;
} {
  const heads = new Map<string, Assembled>();
  const moved = new Map<number, number>();
  const kept: Assembled[] = [];
  for (const one of readings) {
    const name = partName(one);
    const head = name === null ? undefined : heads.get(name);
    if (name === null || head === undefined || !fits(head, one)) {
      kept.push(one);
      if (name !== null) heads.set(name, one);
      continue;
    }
    const merged = joinParts(head, one);
    kept[kept.indexOf(head)] = merged;
    heads.set(name, merged);
    moved.set(one.reading.index, merged.reading.index);
  }
  return { readings: kept, moved };
}

/** What parts of one measurement have in common; null: it is no part, or nothing tells when it was taken. */
function partName({ part, patient, encounter, recorder, reading }: Assembled): string | null {
  const { takenAt, device, method, site, side, position, unit } = reading;
  if (part === undefined || takenAt === undefined || device === undefined) return null;
  const spot = [method, site, side, position, unit];
  return JSON.stringify([patient, encounter, recorder, device, Date.parse(takenAt), ...spot]);
}

function fits(head: Assembled, { part, reading }: Assembled): boolean {
  return part !== undefined && head.reading[part] === undefined && reading[part] !== undefined;
}

function joinParts(head: Assembled, { part, reading: added }: Assembled): Assembled {
  const { reading } = head;
  const [mine, other] = [reading.report, added.report];
  const all = <T>(one: readonly T[] = [], more: readonly T[] = []): T[] => [
    ...new Set([...one, ...more]),
  ];
  const lists = {
    doubts: all(mine.doubts, other.doubts),
    signal: all(mine.signal, other.signal),
    identifiers: all(mine.identifiers, other.identifiers),
    unlessKept: all(mine.unlessKept, other.unlessKept),
  };
  const filled = Object.fromEntries(Object.entries(lists).filter(([, list]) => list.length > 0));
  const notes = all(reading.note?.split('\n'), added.note?.split('\n')).join('\n');
  return {
    ...head,
    reading: {
      ...reading,
      ...(part !== undefined && { [part]: added[part] }),
      ...(notes !== '' && { note: notes }),
      report: { ...mine, ...filled, at: `${mine.at}, ${other.at}` },
    },
  };
}
