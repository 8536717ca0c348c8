/** Published versions of readings by id: the newest, one, or all of them. */
import type { Pool } from 'pg';
import type { ReadingVersion } from '../vitals/shapes.js';
import {
  READING_COLUMNS,
  READING_DICTIONARIES,
  READING_TABLES,
  toReadingVersion,
} from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';
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
  readonly version: ReadingVersion;
  /** Nothing of this reading was published before. */
  readonly first: boolean;
}

/** The newest version, and the stamp of the version before it, published or not. */
export interface NewestObservation {
  readonly version: ReadingVersion;
  readonly replacedStampMs: number | null;
}

const STAMP_BEFORE = `(
  select (extract(epoch from b.stamp) * 1000)::bigint::text from readings b
   where b.reading_id = r.reading_id and b.version = r.version - 1)`;

const PUBLISHED_BEFORE = `exists (
  select from readings b
   where b.reading_id = r.reading_id and b.version < r.version and b.status is not null)`;

const NEWEST_FIRST = 'r.stamp desc, r.reading_id desc, r.version desc';

/** Null: there is no such reading, or its newest version is not published. */
export async function findObservation(pool: Pool, id: string): Promise<NewestObservation | null> {
  const { rows } = await pool.query<ReadingRow & { replaced_ms: string | null }>({
    name: 'find-observation',
    text: `select ${READING_COLUMNS}, ${STAMP_BEFORE} as replaced_ms from ${READING_TABLES}
            where r.reading_id = $1 and r.superseded is null and r.status is not null`,
    values: [id],
  });
  const row = rows[0];
  if (row === undefined) return null;
  return {
    version: toReadingVersion(row),
    replacedStampMs: row.replaced_ms === null ? null : Number(row.replaced_ms),
  };
}

/** Null: there is no such version, or it was never published. */
export async function findObservationVersion(
  pool: Pool,
  id: string,
  version: number,
): Promise<ReadingVersion | null> {
  const { rows } = await pool.query<ReadingRow>({
    name: 'find-observation-version',
    text: `select ${READING_COLUMNS} from ${READING_TABLES}
            where r.reading_id = $1 and r.version = $2 and r.status is not null`,
    values: [id, version],
  });
  return rows[0] === undefined ? null : toReadingVersion(rows[0]);
}

/** Published versions, newest first. */
export async function listObservationEvents(
  pool: Pool,
  { id, sinceMs, after, limit }: HistoryPage,
): Promise<ObservationEvent[]> {
  const values = new SqlValues();
  const demands = [
    'r.status is not null',
    timeRangeSql('r.stamp', { fromMs: sinceMs, toMs: null }, values),
  ];
  if (id !== null) demands.push(`r.reading_id = ${values.bind(id, 'uuid')}`);
  if (after !== null) {
    const place = [
      values.bindTime(after.keyMs),
      values.bind(after.id, 'uuid'),
      values.bind(after.version, 'smallint'),
    ];
    demands.push(`(r.stamp, r.reading_id, r.version) < (${place.join(', ')})`);
  }
  const { rows } = await pool.query<ReadingRow & { published_before: boolean }>(
    `select ${READING_COLUMNS}, ${PUBLISHED_BEFORE} as published_before
       from (select r.* from readings r where ${demands.join(' and ')}
              order by ${NEWEST_FIRST} limit ${values.bind(limit)}) r ${READING_DICTIONARIES}
      order by ${NEWEST_FIRST}`,
    values.list,
  );
  return rows.map((row) => ({ version: toReadingVersion(row), first: !row.published_before }));
}
