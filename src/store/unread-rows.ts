/** Rows of messages that brought no reading, over all messages: the newest first, and by the code they bear. */
import type { Pool } from 'pg';
import type { UnreadReason } from '../vitals/device-report.js';
import { boundSearch, countRows } from './review-bounds.js';
import { firstIdAt } from './review-submissions.js';
import { SqlValues } from './sql-values.js';

/** One search for rows that still bring no reading; what is left out is not asked. */
export interface UnreadSearch {
  readonly reason?: UnreadReason | undefined;
  /** By name. */
  readonly source?: string | undefined;
  /** The code that the row bears, whatever its system. */
  readonly code?: string | undefined;
  /** Of the message, in ms since the epoch; inclusive. */
  readonly receivedFromMs: number | null;
  /** Exclusive. */
  readonly receivedToMs: number | null;
}

export interface ListedUnreadRow {
  readonly submissionId: string;
  /** Its place in the submission, counted from 0. */
  readonly place: number;
  readonly source: string;
  readonly receivedMs: number;
  /** Where it stands in the message, for people. */
  readonly at: string;
  readonly reason: UnreadReason;
  readonly message: string;
  readonly code: string | null;
  readonly codeSystem: string | null;
  readonly codeName: string | null;
  readonly unit: string | null;
  readonly value: string | null;
}

export interface UnreadPosition {
  readonly submissionId: string;
  readonly place: number;
}

interface Row {
  submission_id: string;
  place: number;
  source: string;
  received_at: Date;
  at: string;
  reason: UnreadReason;
  message: string;
  code_system: string | null;
  code: string | null;
  code_name: string | null;
  unit: string | null;
  value: string | null;
}

const TABLES = `unread_rows u
  join submissions s on s.submission_id = u.submission_id
  join sources o on o.source_key = s.source_key`;

/**
 * Rows that nobody could read yet, those of the newest messages first.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function listUnread(
  pool: Pool,
  search: UnreadSearch,
  after: UnreadPosition | null,
  limit: number,
): Promise<ListedUnreadRow[]> {
  const values = new SqlValues();
  const demands = demandsOf(search, values);
  if (after !== null) {
    const place = [values.bind(after.submissionId, 'uuid'), values.bind(after.place, 'smallint')];
    demands.push(`(u.submission_id, u.place) < (${place.join(', ')})`);
  }
  const { rows } = await boundSearch(
    pool.query<Row>(
      `select u.submission_id, u.place, o.name as source, s.received_at, u.at, u.reason, u.message,
              u.code_system, u.code, u.code_name, u.unit, u.value
         from ${TABLES}
        where ${demands.join(' and ')}
        order by u.submission_id desc, u.place desc limit ${values.bind(limit)}`,
      values.list,
    ),
  );
  return rows.map((row) => ({
    submissionId: row.submission_id,
    place: row.place,
    source: row.source,
    receivedMs: row.received_at.getTime(),
    at: row.at,
    reason: row.reason,
    message: row.message,
    code: row.code,
    codeSystem: row.code_system,
    codeName: row.code_name,
    unit: row.unit,
    value: row.value,
  }));
}

/**
 * How many rows a search finds; counting stops at `most`.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function countUnread(pool: Pool, search: UnreadSearch, most: number): Promise<number> {
  const values = new SqlValues();
  const demands = demandsOf(search, values).join(' and ');
  return countRows(pool, `from ${TABLES} where ${demands}`, values, most);
}

function demandsOf(search: UnreadSearch, values: SqlValues): string[] {
  const { reason, source, code, receivedFromMs, receivedToMs } = search;
  const demands = ['u.read_at is null'];
  if (reason !== undefined) demands.push(`u.reason = ${values.bind(reason)}`);
  if (code !== undefined) demands.push(`u.code = ${values.bind(code)}`);
  if (source !== undefined) demands.push(`o.name = ${values.bind(source)}`);
  if (receivedFromMs !== null) {
    demands.push(`u.submission_id >= ${values.bind(firstIdAt(receivedFromMs), 'uuid')}`);
  }
  if (receivedToMs !== null) {
    demands.push(`u.submission_id < ${values.bind(firstIdAt(receivedToMs), 'uuid')}`);
  }
  return demands;
}

/** A code of a source that no mapping knows, with its unit as sent. */
export interface UnmappedCode {
  readonly sourceKey: number;
  readonly system: string | null;
  readonly code: string;
  readonly name: string | null;
  readonly unit: string | null;
  readonly rows: number;
  readonly lastMs: number;
  /** The newest submission with it. */
  readonly exampleId: string;
}

/** Rows that the summing up looks at, the newest: a source whose codes nobody maps sends many. */
const MAX_ROWS = 100_000;

/** Codes that wait for a mapping, the most frequent first, and whether older rows were left out. */
export async function listUnmappedCodes(
  pool: Pool,
): Promise<{ readonly codes: readonly UnmappedCode[]; readonly isPartial: boolean }> {
  const { rows } = await boundSearch(
    pool.query<{
      source_key: number;
      code_system: string | null;
      code: string;
      code_name: string | null;
      unit: string | null;
      times: number;
      last_at: Date;
      example_id: string;
    }>({
      name: 'list-unmapped-codes',
      text: `select s.source_key, u.code_system, u.code, max(u.code_name) as code_name, u.unit,
                    count(*)::int as times, max(s.received_at) as last_at,
                    (array_agg(u.submission_id order by u.submission_id desc))[1] as example_id
               from (select submission_id, code_system, code, code_name, unit from unread_rows
                      where read_at is null and reason = 'code-unmapped' and code is not null
                      order by submission_id desc limit $1) u
               join submissions s on s.submission_id = u.submission_id
              group by s.source_key, u.code_system, u.code, u.unit
              order by times desc, u.code_system, u.code`,
      values: [MAX_ROWS],
    }),
  );
  const codes = rows.map((row) => ({
    sourceKey: row.source_key,
    system: row.code_system,
    code: row.code,
    name: row.code_name,
    unit: row.unit,
    rows: row.times,
    lastMs: row.last_at.getTime(),
    exampleId: row.example_id,
  }));
  const looked = codes.reduce((sum, one) => sum + one.rows, 0);
  return { codes, isPartial: looked === MAX_ROWS };
}
