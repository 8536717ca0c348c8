/** Published versions of Observations by id: the newest, one, or all of them. */
import type { Pool } from 'pg';
import { conditionSql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { READING_DICTIONARIES } from './reading-rows.js';
import {
  READING_ID,
  SHOWN,
  SHOWN_COLUMNS,
  fromShown,
  hasSql,
  orderOf,
  rowSql,
  rowsOf,
  shownBy,
  toObservationVersion,
} from './shown-observations.js';
import type { ObservationVersion, Shown, ShownRow } from './shown-observations.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

/** Where a page of history ends. */
export interface HistoryPosition {
  readonly keyMs: number;
  readonly id: string;
  readonly version: number;
}

/**
 * Which versions of resources of one type, newest first. What is added meanwhile comes before the
 * first page, so that later pages are not moved by it.
 */
export interface HistoryPage {
  /** Null: of every resource of the type. */
  readonly id: string | null;
  /** Versions of this moment and later; null: all. */
  readonly sinceMs: number | null;
  readonly after: HistoryPosition | null;
  readonly limit: number;
}

export interface ObservationEvent {
  readonly version: ObservationVersion;
  /** Nothing of this Observation was published before. */
  readonly first: boolean;
}

/** The newest version, and the stamp of the version before it, published or not. */
export interface NewestObservation {
  readonly version: ObservationVersion;
  readonly replacedStampMs: number | null;
}

function stampBefore(shown: Shown): string {
  const [table, id] = shown === 'panel' ? ['panels', 'panel_id'] : ['readings', 'reading_id'];
  return `(select (extract(epoch from b.stamp) * 1000)::bigint::text from ${table} b
            where b.${id} = r.reading_id and b.version = r.version - 1)`;
}

/** Every version of a panel is published. */
const PUBLISHED_BEFORE = `case when r.shown = 'panel' then r.version > 1 else exists (
  select from readings b
   where b.reading_id = r.reading_id and b.version < r.version and b.status is not null
     and (r.shown = 'reading' or b.derived ? r.shown)) end`;

/** One row, named and with what it is shown as by the first two parameters. */
function oneShown(shown: Shown): string {
  const kind = shown === 'panel' ? 'true' : "($2::text = 'reading' or r.derived ? $2)";
  return `(select ${rowSql(shown)}, $2::text as shown from ${rowsOf(shown)}
            where r.reading_id = $1 and r.status is not null and ${kind}) r ${READING_DICTIONARIES}`;
}

/** Statements are told apart by their tables. */
function nameOf(name: string, shown: Shown): string {
  return shown === 'panel' ? `${name}-panel` : name;
}

const NEWEST_FIRST = ['r.stamp', READING_ID, 'r.version'];
const NEWEST_ORDER = NEWEST_FIRST.map((column) => ({ column, direction: 'desc' }) as const);

/** Null: there is no such Observation, or the newest version of its reading is not published. */
export async function findObservation(pool: Pool, id: string): Promise<NewestObservation | null> {
  const of = shownBy(id);
  if (of === null) return null;
  const { rows } = await pool.query<ShownRow & { replaced_ms: string | null }>({
    name: nameOf('find-observation', of.as),
    text: `select ${SHOWN_COLUMNS}, ${stampBefore(of.as)} as replaced_ms from ${oneShown(of.as)}
            where r.superseded is null`,
    values: [of.rowId, of.as],
  });
  const row = rows[0];
  if (row === undefined) return null;
  return {
    version: toObservationVersion(row),
    replacedStampMs: row.replaced_ms === null ? null : Number(row.replaced_ms),
  };
}

/** Null: there is no such version, or it was never published. */
export async function findObservationVersion(
  pool: Pool,
  id: string,
  version: number,
): Promise<ObservationVersion | null> {
  const of = shownBy(id);
  if (of === null) return null;
  const { rows } = await pool.query<ShownRow>({
    name: nameOf('find-observation-version', of.as),
    text: `select ${SHOWN_COLUMNS} from ${oneShown(of.as)} where r.version = $3`,
    values: [of.rowId, of.as, version],
  });
  return rows[0] === undefined ? null : toObservationVersion(rows[0]);
}

/** Published versions, newest first; only those that meet the conditions, each by what it says itself. */
export async function listObservationEvents(
  pool: Pool,
  page: HistoryPage,
  conditions: readonly ObservationCondition[] = [],
): Promise<ObservationEvent[]> {
  const of = page.id === null ? null : shownBy(page.id);
  if (page.id !== null && of === null) return [];
  const values = new SqlValues();
  const branches = (of === null ? SHOWN : [of.as]).map((shown) => ({
    shown,
    demands: [
      ...(shown === 'reading' || shown === 'panel' ? [] : [hasSql(shown)]),
      ...eventDemands(page, of?.rowId ?? null, shown, values),
      ...conditions.map((one) => conditionSql(one, { shown, asOfMs: Date.now() }, values)),
    ],
  }));
  const { rows } = await pool.query<ShownRow & { published_before: boolean }>(
    `select ${SHOWN_COLUMNS}, ${PUBLISHED_BEFORE} as published_before
       from ${fromShown(branches, NEWEST_ORDER, values.bind(page.limit))}`,
    values.list,
  );
  return rows.map((row) => ({ version: toObservationVersion(row), first: !row.published_before }));
}

function eventDemands(
  { sinceMs, after }: HistoryPage,
  rowId: string | null,
  shown: Shown,
  values: SqlValues,
): string[] {
  const demands = [
    'r.status is not null',
    timeRangeSql('r.stamp', { fromMs: sinceMs, toMs: null }, values),
  ];
  if (rowId !== null) demands.push(`${READING_ID} = ${values.bind(rowId, 'uuid')}`);
  const last = after === null ? null : shownBy(after.id);
  if (after !== null && last !== null) {
    const place = [values.bindTime(after.keyMs), values.bind(last.rowId, 'uuid')];
    const order = orderOf(shown, last.as);
    if (order === 0) place.push(values.bind(after.version, 'smallint'));
    const columns = NEWEST_FIRST.slice(0, place.length).join(', ');
    demands.push(`(${columns}) ${order < 0 ? '<=' : '<'} (${place.join(', ')})`);
  }
  return demands;
}
