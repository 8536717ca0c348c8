/** Readings as an analyst sees them: the newest versions, with whose they are and what was decided. */
import type { Pool } from 'pg';
import type { ReadingVersion } from '../vitals/shapes.js';
import {
  READING_COLUMNS,
  READING_TABLES,
  readingIdRange,
  toReadingVersion,
} from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';
import { boundSearch, countRows } from './review-bounds.js';
import { reviewRows } from './review-search.js';
import type { ReviewRows, ReviewSearch } from './review-search.js';
import { SqlValues } from './sql-values.js';

/** The name of a patient as registered: a FHIR HumanName. */
export interface RegisteredName {
  readonly text?: string;
  readonly given?: readonly string[];
  readonly family?: string;
}

/** The newest version of a reading in review. */
export interface ReviewReading {
  readonly version: ReadingVersion;
  readonly critical: boolean;
  /** A person has decided about it, once at least. */
  readonly decided: boolean;
  /** Null: nobody has registered this patient. */
  readonly registered: {
    readonly name: RegisteredName | null;
    readonly birthDate: string | null;
    readonly gender: string | null;
  } | null;
  /** The reading that was withdrawn because it stood under the wrong patient. */
  readonly replaces: string | null;
}

/** A row's place in the order of its search. */
export interface ReviewPosition {
  readonly rank: number;
  readonly atMs: number;
  readonly id: string;
}

export interface ReviewPage {
  readonly readings: readonly ReviewReading[];
  /** How many were found from the page's first one on; counting stopped at the limit for it. */
  readonly found: number;
  /** The place of the last one, when more follow. */
  readonly next: ReviewPosition | null;
}

interface ReviewRow extends ReadingRow {
  critical: boolean | null;
  decided: boolean;
  replaces: string | null;
  patient_version: number | null;
  patient_name: RegisteredName | null;
  birth_date: string | null;
  gender: string | null;
}

const COLUMNS = `${READING_COLUMNS}, r.critical, r.replaces,
  exists (select from decisions x where x.reading_id = r.reading_id) as decided,
  pv.version as patient_version, pv.resource #> '{name,0}' as patient_name,
  pv.birth_date, pv.gender`;

const TABLES = `${READING_TABLES}
  left join patient_versions pv on pv.patient_key = r.patient_key and pv.superseded is null`;

function toReviewReading(row: ReviewRow): ReviewReading {
  const { patient_name: name, birth_date: birthDate, gender } = row;
  return {
    version: toReadingVersion(row),
    critical: row.critical ?? false,
    decided: row.decided,
    registered: row.patient_version === null ? null : { name, birthDate, gender },
    replaces: row.replaces,
  };
}

function beyond(after: ReviewPosition | null, rows: ReviewRows, values: SqlValues): string {
  if (after === null) return 'true';
  const rank = rows.rank === null ? [] : [values.bind(after.rank, 'int')];
  const place = [...rank, values.bindTime(after.atMs), values.bind(after.id, 'uuid')];
  return `(${orderOf(rows).join(', ')}) ${rows.descending ? '<' : '>'} (${place.join(', ')})`;
}

function orderSql(rows: ReviewRows): string {
  const direction = rows.descending ? 'desc' : 'asc';
  return orderOf(rows)
    .map((column) => `${column} ${direction}`)
    .join(', ');
}

function orderOf({ rank, at, id }: ReviewRows): string[] {
  return [...(rank === null ? [] : [rank]), at, id];
}

/**
 * One page of a search, in its order: urgent ones first, or the newest change first. What is counted
 * is found by the same scan: a filter that fits few readings would make a second one as long.
 *
 * @param sizes how many readings the page has, and up to how many are counted, at most
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function listReviewReadings(
  pool: Pool,
  search: ReviewSearch,
  after: ReviewPosition | null,
  sizes: { readonly page: number; readonly count: number },
): Promise<ReviewPage> {
  const values = new SqlValues();
  const rows = reviewRows(search, values);
  const { rows: found } = await boundSearch(
    pool.query<{ rank: number; at_ms: string; id: string }>(
      `select ${rows.rank ?? '0'} as rank, (extract(epoch from ${rows.at}) * 1000)::bigint::text as at_ms,
              r.reading_id as id
         from ${rows.from} where ${rows.where} and ${beyond(after, rows, values)}
        order by ${orderSql(rows)}
        limit ${values.bind(Math.max(sizes.page + 1, sizes.count))}`,
      values.list,
    ),
  );
  const page = found.slice(0, sizes.page);
  const last = page.at(-1);
  return {
    readings: await findReviewReadings(
      pool,
      page.map(({ id }) => id),
    ),
    found: found.length,
    next:
      last === undefined || found.length <= sizes.page
        ? null
        : { rank: last.rank, atMs: Number(last.at_ms), id: last.id },
  };
}

/**
 * How many readings a search finds; counting stops at `most`.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function countReviewReadings(
  pool: Pool,
  search: ReviewSearch,
  most: number,
): Promise<number> {
  const values = new SqlValues();
  const { from, where } = reviewRows(search, values);
  return countRows(pool, `from ${from} where ${where}`, values, most);
}

/** The newest versions of readings, in the order of their ids as given; those that are not there are left out. */
export async function findReviewReadings(
  pool: Pool,
  ids: readonly string[],
): Promise<ReviewReading[]> {
  if (ids.length === 0) return [];
  const { rows } = await pool.query<ReviewRow>({
    name: 'read-review-readings',
    text: `select ${COLUMNS} from ${TABLES}
            where r.reading_id = any($1::uuid[]) and r.superseded is null`,
    values: [ids],
  });
  const byId = new Map(rows.map((row) => [row.reading_id, toReviewReading(row)]));
  return ids.map((id) => byId.get(id)).filter((one) => one !== undefined);
}

/** The newest version of one reading; null: there is none of that id. */
export async function findReviewReading(pool: Pool, id: string): Promise<ReviewReading | null> {
  const { rows } = await pool.query<ReviewRow>({
    name: 'find-review-reading',
    text: `select ${COLUMNS} from ${TABLES} where r.reading_id = $1 and r.superseded is null`,
    values: [id],
  });
  return rows[0] === undefined ? null : toReviewReading(rows[0]);
}

/** The newest versions of the readings that came with a submission, in their order. */
export async function findReviewReadingsOf(
  pool: Pool,
  submissionId: string,
): Promise<ReviewReading[]> {
  const { first, last } = readingIdRange(submissionId);
  const { rows } = await pool.query<ReviewRow>({
    name: 'find-review-readings-of-submission',
    text: `select ${COLUMNS} from ${TABLES}
            where r.reading_id between $1 and $2 and r.superseded is null order by r.reading_id`,
    values: [first, last],
  });
  return rows.map(toReviewReading);
}
