/**
 * Walking over published Observations as they stood at a stamp, for an export: a window of rows at a time,
 * in the order of an index, so that each statement looks at a bounded number of rows however few of them
 * are wanted, and a walk goes on from any key. Nothing is read twice and no snapshot is held: versions are
 * never changed, and what is added later carries a later stamp.
 */
import type { Pool } from 'pg';
import type { ExportSelection, KeyRange } from './exports.js';
import { canMeet, conditionSql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { READING_DICTIONARIES } from './reading-rows.js';
import {
  READING_ID,
  SHOWN_COLUMNS,
  SHOWN_OF_READINGS,
  hasSql,
  rowSql,
  rowsOf,
  versionAs,
} from './shown-observations.js';
import type { ObservationVersion, Shown, ShownRow } from './shown-observations.js';
import { SqlValues } from './sql-values.js';

/** What of a selection says which Observations are wanted. */
export interface ObservationWalk extends Pick<
  ExportSelection,
  'patientKeys' | 'sinceMs' | 'untilMs'
> {
  readonly over: 'readings' | 'panels';
  readonly asOfMs: number;
  /** Searches: an Observation that meets every condition of one of them is wanted; none: every one is. */
  readonly filters: readonly (readonly ObservationCondition[])[];
}

/** What stands in a window of rows. `endKey` is its last row; null: nothing comes after it. */
export interface Window {
  readonly endKey: string | null;
}

/** Without patients in the order of commits, as the rows lie on disk; else patient by patient. */
type Walking = 'by-stamp' | 'by-patient';

const KEY_COLUMNS: Readonly<Record<Walking, readonly string[]>> = {
  'by-stamp': ['r.stamp', READING_ID],
  'by-patient': ['r.patient_key', 'r.effective_at', READING_ID],
};

function walkingOf({ patientKeys }: ObservationWalk): Walking {
  return patientKeys === null ? 'by-stamp' : 'by-patient';
}

/** A key as text: the parts of {@link KEY_COLUMNS} with a space between, times in ms since the epoch. */
const KEY_SQL: Readonly<Record<Walking, string>> = {
  'by-stamp': `(extract(epoch from r.stamp) * 1000)::bigint || ' ' || r.reading_id`,
  'by-patient': `r.patient_key || ' ' || (extract(epoch from r.effective_at) * 1000)::bigint || ' ' || r.reading_id`,
};

function keyValues(key: string, walking: Walking, values: SqlValues): string {
  const parts = key.split(' ');
  const id = values.bind(parts.at(-1), 'uuid');
  const time = values.bindTime(Number(parts.at(-2)));
  return walking === 'by-stamp'
    ? `(${time}, ${id})`
    : `(${values.bind(Number(parts[0]), 'integer')}, ${time}, ${id})`;
}

/** Rows that the walk looks at: the newest published versions at the stamp, in the range. */
function demandsOf(walk: ObservationWalk, range: KeyRange, values: SqlValues): string[] {
  const { asOfMs, sinceMs, untilMs, patientKeys } = walk;
  const walking = walkingOf(walk);
  const asOf = values.bindTime(asOfMs);
  const columns = `(${KEY_COLUMNS[walking].join(', ')})`;
  return [
    `r.stamp <= ${asOf} and (r.superseded is null or r.superseded > ${asOf}) and r.status is not null`,
    ...(sinceMs === null ? [] : [`r.stamp > ${values.bindTime(sinceMs)}`]),
    ...(untilMs === null ? [] : [`r.stamp < ${values.bindTime(untilMs)}`]),
    ...(patientKeys === null
      ? []
      : [`r.patient_key = any(${values.bind(patientKeys, 'integer[]')})`]),
    ...(range.afterKey === null
      ? []
      : [`${columns} > ${keyValues(range.afterKey, walking, values)}`]),
    ...(range.untilKey === null
      ? []
      : [`${columns} <= ${keyValues(range.untilKey, walking, values)}`]),
  ];
}

/** As what the rows of each table may be shown, in the order in which they are. */
const SHOWN_OVER: Readonly<Record<ObservationWalk['over'], readonly Shown[]>> = {
  readings: SHOWN_OF_READINGS,
  panels: ['panel'],
};

/** As what a row is wanted: kinds joined by commas, none: ''. */
function shownSql({ over, filters, asOfMs }: ObservationWalk, values: SqlValues): string {
  const cases = SHOWN_OVER[over].map((shown) => {
    const demands = [
      ...(shown === 'reading' || shown === 'panel' ? [] : [hasSql(shown)]),
      ...(filters.length === 0 ? [] : [meetsOne(filters, shown, asOfMs, values)]),
    ];
    return `case when ${demands.length === 0 ? 'true' : demands.join(' and ')} then '${shown}' end`;
  });
  return `concat_ws(',', ${cases.join(', ')})`;
}

function meetsOne(
  filters: ObservationWalk['filters'],
  shown: Shown,
  asOfMs: number,
  values: SqlValues,
): string {
  const alternatives = filters
    .filter((conditions) => conditions.every((each) => canMeet(each, shown)))
    .map((conditions) =>
      ['true', ...conditions.map((each) => conditionSql(each, { shown, asOfMs }, values))].join(
        ' and ',
      ),
    );
  return alternatives.length === 0
    ? 'false'
    : `(${alternatives.map((one) => `(${one})`).join(' or ')})`;
}

/** The window as a table `r`; the row that fills it has `nth` equal to its size. */
function windowSql(
  walk: ObservationWalk,
  range: KeyRange,
  size: string,
  values: SqlValues,
): { readonly table: string; readonly order: string } {
  const order = KEY_COLUMNS[walkingOf(walk)].join(', ');
  const [of = 'reading'] = SHOWN_OVER[walk.over];
  const table = `(select ${rowSql(of)}, ${shownSql(walk, values)} as shown, row_number() over (order by ${order}) as nth
      from ${rowsOf(of)} where ${demandsOf(walk, range, values).join(' and ')}
      order by ${order} limit ${size}) r`;
  return { table, order };
}

/** How many Observations a window of `size` rows holds. */
export async function countExportWindow(
  pool: Pool,
  walk: ObservationWalk,
  range: KeyRange,
  size: number,
): Promise<Window & { readonly resources: number }> {
  const values = new SqlValues();
  const limit = values.bind(size, 'integer');
  const { table } = windowSql(walk, range, limit, values);
  const { rows } = await pool.query<{ resources: number; end_key: string | null }>(
    `select coalesce(sum(cardinality(string_to_array(r.shown, ','))), 0)::int as resources,
            max(${KEY_SQL[walkingOf(walk)]}) filter (where r.nth = ${limit}) as end_key
       from ${table}`,
    values.list,
  );
  return { resources: rows[0]?.resources ?? 0, endKey: rows[0]?.end_key ?? null };
}

/** The Observations of a window of `size` rows. */
export async function readExportWindow(
  pool: Pool,
  walk: ObservationWalk,
  range: KeyRange,
  size: number,
): Promise<Window & { readonly rows: readonly ObservationVersion[] }> {
  const values = new SqlValues();
  const limit = values.bind(size, 'integer');
  const { table, order } = windowSql(walk, range, limit, values);
  const { rows } = await pool.query<WindowRow>(
    `select ${SHOWN_COLUMNS},
            case when r.nth = ${limit} then ${KEY_SQL[walkingOf(walk)]} end as end_key
       from ${table} ${READING_DICTIONARIES}
      where r.shown <> '' or r.nth = ${limit} order by ${order}`,
    values.list,
  );
  return { rows: rows.flatMap(versionsOf), endKey: rows.at(-1)?.end_key ?? null };
}

type WindowRow = Omit<ShownRow, 'shown'> & { shown: string; end_key: string | null };

function versionsOf(row: WindowRow): ObservationVersion[] {
  if (row.shown === '') return [];
  return row.shown.split(',').map((shown) => versionAs(row, shown as Shown));
}
