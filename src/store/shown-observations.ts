/**
 * What is shown as an Observation: a published version of a reading, each value that was calculated from it,
 * and a version of a panel. What was calculated has the version, stamp and time of the reading's row; so
 * whatever becomes of the reading becomes of it, in the same commit. Its id is the reading's with the kind
 * behind it, `READING-ID.mean-pressure`; that of a panel is like those of its readings and follows them.
 */
import type { PanelVersion, ReadingVersion } from '../vitals/shapes.js';
import { DERIVED_KINDS } from '../vitals/words.js';
import type { DerivedKind, ObservationStatus } from '../vitals/words.js';
import { PANEL_RECORD_COLUMNS } from './panel-records.js';
import { READING_RECORD_COLUMNS } from './reading-records.js';
import {
  READING_COLUMNS,
  READING_DICTIONARIES,
  panelIdOf,
  toPanelVersion,
  toReadingVersion,
} from './reading-rows.js';
import type { PanelRow, ReadingRow } from './reading-rows.js';

/** What a version of a reading is shown as. */
export type ShownOfReading = 'reading' | DerivedKind;
export type Shown = ShownOfReading | 'panel';

export const SHOWN_OF_READINGS = ['reading', ...DERIVED_KINDS] as const;
/** In the order of the ids of one reading. */
export const SHOWN = [...SHOWN_OF_READINGS, 'panel'] as const;

/** A row of {@link fromShown}, with the columns of a reading; those that a panel lacks are null in it. */
export type ShownRow = ReadingRow & { shown: Shown; members: string[] | null };

/** A version of a reading as one of the Observations that it is shown as. */
export interface ShownReading extends ReadingVersion {
  readonly observationId: string;
  readonly shown: ShownOfReading;
}

/** A version of a panel as the Observation that it is. */
export interface ShownPanel extends PanelVersion {
  readonly observationId: string;
  readonly shown: 'panel';
}

export type ObservationVersion = ShownReading | ShownPanel;

const OBSERVATION_ID = /^([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})(?:\.(.+))?$/;

/** The row that an id leads to, by its own id, and as what; null: no Observation has such an id. */
export function shownBy(id: string): { readonly rowId: string; readonly as: Shown } | null {
  const [, rowId, kind] = OBSERVATION_ID.exec(id) ?? [];
  if (rowId === undefined) return null;
  if (rowId === panelIdOf(rowId)) return kind === undefined ? { rowId, as: 'panel' } : null;
  const as = kind === undefined ? 'reading' : DERIVED_KINDS.find((one) => one === kind);
  return as === undefined ? null : { rowId, as };
}

/** The version as that Observation: the object itself, because a copy of each would cost a sixteenth of an export. */
export function asShown(version: ReadingVersion, shown: ShownOfReading): ShownReading {
  const { readingId } = version;
  const observationId = shown === 'reading' ? readingId : `${readingId}.${shown}`;
  return Object.assign(version, { observationId, shown });
}

/** A panel as the Observation that it is. */
export function asPanel(version: PanelVersion): ShownPanel {
  return Object.assign(version, { observationId: version.panelId, shown: 'panel' } as const);
}

/** The version that a row stands for. */
export function toObservationVersion(row: ShownRow): ObservationVersion {
  return versionAs(row, row.shown);
}

/** The version that a row stands for, as one of what it is shown as. */
export function versionAs(row: Omit<ShownRow, 'shown'>, shown: Shown): ObservationVersion {
  return shown === 'panel'
    ? asPanel(toPanelVersion(row as PanelRow))
    : asShown(toReadingVersion(row), shown);
}

/** The status under which it is out: what is calculated no more is an error, whatever its reading is out as. */
export function statusOf(version: ObservationVersion): ObservationStatus | null {
  if (version.shown === 'reading' || version.shown === 'panel') return version.status;
  return version.derived?.[version.shown] === null ? 'entered-in-error' : version.status;
}

/** The demand that a row has it; in the words of the index that finds it. */
export function hasSql(kind: DerivedKind): string {
  return `(r.derived is not null and r.derived ? '${kind}')`;
}

/** The demand that a version of it was published before that of the row; of a panel every one is. */
export function publishedBefore(shown: Shown): string {
  if (shown === 'panel') return '(r.version > 1)';
  return `exists (
    select from readings b
     where b.reading_id = r.reading_id and b.version < r.version and b.status is not null
       ${shown === 'reading' ? '' : `and b.derived ? '${shown}'`})`;
}

/** Below zero: before the other in the order of ids, as of one reading. */
export function orderOf(shown: Shown, other: Shown): number {
  return SHOWN.indexOf(shown) - SHOWN.indexOf(other);
}

/** The column that an Observation is sorted by for its id, with what it is shown as. */
export const READING_ID = 'r.reading_id';

/** Panels with the columns of readings; the planner looks through it to the table. */
const PANEL_ROWS = (() => {
  const own = new Set(PANEL_RECORD_COLUMNS.map(([name]) => name));
  const columns = READING_RECORD_COLUMNS.map(([name, type]) => {
    if (name === 'reading_id') return 'p.panel_id as reading_id';
    return own.has(name) ? `p.${name}` : `null::${type} as ${name}`;
  });
  return `(select ${columns.join(', ')}, p.superseded, p.members from panels p) r`;
})();

const READING_ROW = `${[...READING_RECORD_COLUMNS.map(([name]) => name), 'superseded']
  .map((name) => `r.${name}`)
  .join(', ')}, null::uuid[] as members`;

/** Where the rows `r` stand that are shown so. */
export function rowsOf(shown: Shown): string {
  return shown === 'panel' ? PANEL_ROWS : 'readings r';
}

/** The whole row, the same columns whatever it is shown as. */
export function rowSql(shown: Shown): string {
  return shown === 'panel' ? 'r.*' : READING_ROW;
}

/** The `select` list for {@link toObservationVersion}. */
export const SHOWN_COLUMNS = `${READING_COLUMNS}, r.members, r.shown`;

/** Rows as one thing that they are shown as. */
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
      `select ${rowSql(shown)}, '${shown}' as shown, ${SHOWN.indexOf(shown)} as rank
         from ${rowsOf(shown)} where ${demands.join(' and ')} order by ${orderSql(order)} limit ${limit}`,
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
