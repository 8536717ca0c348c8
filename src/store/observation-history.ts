/** Published versions of readings by id: the newest, one, or all of them. */
import type { Pool } from 'pg';
import { conditionSql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { READING_COLUMNS, READING_TABLES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';
import {
  READING_ID,
  SHOWN,
  asShown,
  fromShown,
  hasSql,
  orderOf,
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
  /** Nothing of this reading was published before. */
  readonly first: boolean;
}

/** The newest version, and the stamp of the version before it, published or not. */
export interface NewestObservation {
  readonly version: ObservationVersion;
  readonly replacedStampMs: number | null;
}

const STAMP_BEFORE = `(
  select (extract(epoch from b.stamp) * 1000)::bigint::text from readings b
   where b.reading_id = r.reading_id and b.version = r.version - 1)`;

const PUBLISHED_BEFORE = `exists (
  select from readings b
   where b.reading_id = r.reading_id and b.version < r.version and b.status is not null
     and (r.shown = 'reading' or b.derived ? r.shown))`;

/** Of the second parameter: the reading itself, or what was calculated from it. */
const HAS_KIND = "($2::text = 'reading' or r.derived ? $2)";

const NEWEST_FIRST = ['r.stamp', READING_ID, 'r.version'];
const NEWEST_ORDER = NEWEST_FIRST.map((column) => ({ column, direction: 'desc' }) as const);

/** Null: there is no such Observation, or the newest version of its reading is not published. */
export async function findObservation(pool: Pool, id: string): Promise<NewestObservation | null> {
  const of = shownBy(id);
  if (of === null) return null;
  const { rows } = await pool.query<ReadingRow & { replaced_ms: string | null }>({
    name: 'find-observation',
    text: `select ${READING_COLUMNS}, ${STAMP_BEFORE} as replaced_ms from ${READING_TABLES}
            where r.reading_id = $1 and r.superseded is null and r.status is not null
              and ${HAS_KIND}`,
    values: [of.readingId, of.as],
  });
  const row = rows[0];
  if (row === undefined) return null;
  return {
    version: asShown(toReadingVersion(row), of.as),
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
  const { rows } = await pool.query<ReadingRow>({
    name: 'find-observation-version',
    text: `select ${READING_COLUMNS} from ${READING_TABLES}
            where r.reading_id = $1 and ${HAS_KIND} and r.version = $3 and r.status is not null`,
    values: [of.readingId, of.as, version],
  });
  return rows[0] === undefined ? null : asShown(toReadingVersion(rows[0]), of.as);
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
      ...(shown === 'reading' ? [] : [hasSql(shown)]),
      ...eventDemands(page, of?.readingId ?? null, shown, values),
      ...conditions.map((one) => conditionSql(one, { shown, asOfMs: Date.now() }, values)),
    ],
  }));
  const { rows } = await pool.query<ShownRow & { published_before: boolean }>(
    `select ${READING_COLUMNS}, r.shown, ${PUBLISHED_BEFORE} as published_before
       from ${fromShown(branches, NEWEST_ORDER, values.bind(page.limit))}`,
    values.list,
  );
  return rows.map((row) => ({ version: toObservationVersion(row), first: !row.published_before }));
}

function eventDemands(
  { sinceMs, after }: HistoryPage,
  readingId: string | null,
  shown: Shown,
  values: SqlValues,
): string[] {
  const demands = [
    'r.status is not null',
    timeRangeSql('r.stamp', { fromMs: sinceMs, toMs: null }, values),
  ];
  if (readingId !== null) demands.push(`${READING_ID} = ${values.bind(readingId, 'uuid')}`);
  const last = after === null ? null : shownBy(after.id);
  if (after !== null && last !== null) {
    const place = [values.bindTime(after.keyMs), values.bind(last.readingId, 'uuid')];
    const order = orderOf(shown, last.as);
    if (order === 0) place.push(values.bind(after.version, 'smallint'));
    const columns = NEWEST_FIRST.slice(0, place.length).join(', ');
    demands.push(`(${columns}) ${order < 0 ? '<=' : '<'} (${place.join(', ')})`);
  }
  return demands;
}
