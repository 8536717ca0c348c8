/**
 * What a published version of a reading is shown as: an Observation of its own, and one of each value that
 * was calculated from it. All of them have the row's version, stamp and time; so whatever becomes of the
 * reading becomes of them, in the same commit. Only their ids differ: `READING-ID.mean-pressure`.
 */
import type { ReadingVersion } from '../vitals/shapes.js';
import { DERIVED_KINDS } from '../vitals/words.js';
import type { DerivedKind } from '../vitals/words.js';
import { READING_DICTIONARIES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

export type Shown = 'reading' | DerivedKind;

/** In the order of the ids of one reading. */
export const SHOWN = ['reading', ...DERIVED_KINDS] as const;

/** A row of {@link fromShown}, with the columns of a reading. */
export type ShownRow = ReadingRow & { shown: Shown };

/** A version of a reading as one of the Observations that it is shown as. */
export interface ObservationVersion extends ReadingVersion {
  readonly observationId: string;
  readonly shown: Shown;
}

const OBSERVATION_ID = /^([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})(?:\.(.+))?$/;

/** The reading that an id leads to, and as what; null: no Observation has such an id. */
export function shownBy(id: string): { readonly readingId: string; readonly as: Shown } | null {
  const [, readingId, kind] = OBSERVATION_ID.exec(id) ?? [];
  const as = kind === undefined ? 'reading' : DERIVED_KINDS.find((one) => one === kind);
  return readingId === undefined || as === undefined ? null : { readingId, as };
}

/** The version as that Observation: the object itself, because a copy of each would cost a sixteenth of an export. */
export function asShown(version: ReadingVersion, shown: Shown): ObservationVersion {
  const { readingId } = version;
  const observationId = shown === 'reading' ? readingId : `${readingId}.${shown}`;
  return Object.assign(version, { observationId, shown });
}

/** The version that a row stands for. */
export function toObservationVersion(row: ShownRow): ObservationVersion {
  return asShown(toReadingVersion(row), row.shown);
}

/** The demand that a row has it; in the words of the index that finds it. */
export function hasSql(kind: DerivedKind): string {
  return `(r.derived is not null and r.derived ? '${kind}')`;
}

/** Below zero: before the other in the order of ids, as of one reading. */
export function orderOf(shown: Shown, other: Shown): number {
  return SHOWN.indexOf(shown) - SHOWN.indexOf(other);
}

/** The column that an Observation is sorted by for its id, with what it is shown as. */
export const READING_ID = 'r.reading_id';

/** Rows of `readings` as one thing that they are shown as. */
export interface Branch {
  readonly shown: Shown;
  readonly demands: readonly string[];
}

/**
 * `from` and `order by` of the first rows of some branches, in order, with their dictionaries joined. The
 * page first, then its names: so no dictionary is looked at for rows that are not shown.
 * @param order to sort by; without the id of a reading in it the order is not whole
 * @param limit placeholder of how many
 * @param joins of what the rows point to
 */
export function fromShown(
  branches: readonly Branch[],
  order: readonly OrderKey[],
  limit: string,
  joins = READING_DICTIONARIES,
): string {
  const selects = branches.map(
    ({ shown, demands }) =>
      `select r.*, '${shown}' as shown, ${SHOWN.indexOf(shown)} as rank
         from readings r where ${demands.join(' and ')} order by ${orderSql(order)} limit ${limit}`,
  );
  const [only = ''] = selects;
  if (selects.length === 1) return `(${only}) r ${joins} order by ${orderSql(order)}`;
  const merged = selects.map((select) => `(${select})`).join(' union all ');
  const ranked = orderSql(
    order.flatMap((one) =>
      one.column === READING_ID ? [one, { ...one, column: 'r.rank' }] : [one],
    ),
  );
  return `(select r.* from (${merged}) r order by ${ranked} limit ${limit}) r
    ${joins} order by ${ranked}`;
}

/** A column of {@link fromShown} that rows are sorted by. */
export interface OrderKey {
  readonly column: string;
  readonly direction: 'asc' | 'desc';
}

function orderSql(order: readonly OrderKey[]): string {
  return order.map(({ column, direction }) => `${column} ${direction}`).join(', ');
}
