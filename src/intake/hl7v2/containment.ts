/** The tree of a device as OBX-4 tells it: MDS, VMD, channel, metric, facets (IHE Devices TF-2, B.8). */
import type { CodeFound } from '../../vitals/find-sign.js';
import type { ObxRow } from './group-segments.js';
import type { Hl7Field } from './segment.js';

/**
 * OBX-4 of one row. Zeros inside a path are levels without a name, and zeros at its end are nothing: so a
 * key is a path up to its last number that is not zero.
 */
export interface RowPath {
  /** As sent. */
  readonly text: string;
  /** Empty when it is no path of numbers. */
  readonly key: string;
  /** Keys of everything that contains this row, the nearest first. */
  readonly containers: readonly string[];
  /** It ends in zero: a device, a part of one or a channel, no metric. */
  readonly isDevice: boolean;
}

const PATH = /^\d{1,10}(?:\.\d{1,10}){0,9}$/;
const MAX_TEXT = 100;
const NOWHERE = { key: '', containers: [], isDevice: false };

export function readPath(sent: string): RowPath {
  const text = sent.trim().slice(0, MAX_TEXT);
  if (!PATH.test(text)) return { text, ...NOWHERE };
  const keys: string[] = [];
  let path = '';
  let isDevice = false;
  for (const level of text.split('.').map(Number)) {
    path += path === '' ? String(level) : `.${level}`;
    isDevice = level === 0 && path !== '0';
    if (level !== 0) keys.unshift(path);
  }
  const [key = '', ...others] = keys;
  return { text, key, containers: others, isDevice };
}

/** What contains a row, as a key: rows with the same are siblings. Empty: nothing is told. */
export function parentOf({ containers }: RowPath): string {
  return containers[0] ?? '';
}

/** A row with its code read, and its place in the tree. */
export interface PlacedRow extends ObxRow {
  readonly found: CodeFound;
  readonly path: RowPath;
}

/** The rows of one order by their paths; the order in which they were sent plays no part. */
export class Containment {
  readonly rows: readonly PlacedRow[];
  readonly #byKey = new Map<string, PlacedRow[]>();

  constructor(rows: readonly ObxRow[], signOf: (field: Hl7Field) => CodeFound) {
    this.rows = rows.map(({ obx, index, participations }) => ({
      obx,
      index,
      participations,
      found: signOf(obx.field(3)),
      path: readPath(obx.text(4)),
    }));
    for (const row of this.rows) {
      const there = this.#byKey.get(row.path.key);
      if (there === undefined) this.#byKey.set(row.path.key, [row]);
      else there.push(row);
    }
  }

  /**
   * Reads one thing that rows say of what they contain: the answer lists what the containers of a row say,
   * the nearest first. A container that says two things says nothing, and neither does anything above it:
   * which of both holds nobody can tell.
   * @param read what one row says, or null
   * @param tell by which two statements are told apart
   */
  inheriting<T>(
    read: (container: PlacedRow) => T | null,
    tell: (value: T) => string,
  ): (row: PlacedRow) => readonly T[] {
    const said = new Map<string, ReadonlyMap<string, T>>();
    const saidAt = (key: string) => {
      let values = said.get(key);
      if (values === undefined) {
        values = distinct(this.#byKey.get(key) ?? [], read, tell);
        said.set(key, values);
      }
      return values;
    };
    return ({ path }) => {
      const found: T[] = [];
      for (const key of path.containers) {
        const values = saidAt(key);
        if (values.size > 1) break;
        found.push(...values.values());
      }
      return found;
    };
  }
}

function distinct<T>(
  rows: readonly PlacedRow[],
  read: (container: PlacedRow) => T | null,
  tell: (value: T) => string,
): ReadonlyMap<string, T> {
  const values = new Map<string, T>();
  for (const row of rows) {
    const value = read(row);
    if (value !== null) values.set(tell(value), value);
  }
  return values;
}
