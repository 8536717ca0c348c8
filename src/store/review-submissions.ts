/** What arrived, and what was answered: the facts of submissions and their bytes. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { unpackBytes } from './compress.js';
import { boundSearch, countRows } from './review-bounds.js';
import { SqlValues } from './sql-values.js';
import type { SubmissionKind } from './submission-records.js';

/** The facts of a submission, without its bytes. */
export interface SubmissionFacts {
  readonly submissionId: string;
  readonly kind: SubmissionKind;
  readonly source: string;
  /** Null: a peer sent it, without a token. */
  readonly client: string | null;
  /** Whose it is, where somebody was signed in; null: a program's. */
  readonly person: Identifier | null;
  /** Another person, who handed it in for that one. */
  readonly sentBy: Identifier | null;
  readonly receivedMs: number;
  readonly contentType: string;
  readonly byteLength: number;
  readonly sha256: Buffer;
  /** HTTP status that was answered. */
  readonly status: number;
  readonly setId: string | null;
  readonly edition: number;
}

/** One search; what is left out is not asked. Times in ms since the epoch. */
export interface SubmissionSearch {
  /** Any of these. */
  readonly statuses?: readonly number[] | undefined;
  /** Any of these. */
  readonly kinds?: readonly SubmissionKind[] | undefined;
  readonly source?: string | undefined;
  /** Inclusive. */
  readonly receivedFromMs: number | null;
  /** Exclusive. */
  readonly receivedToMs: number | null;
}

interface SubmissionRow {
  submission_id: string;
  kind: SubmissionKind;
  source: string;
  client: string | null;
  person_system: string | null;
  person_value: string | null;
  sent_by_system: string | null;
  sent_by_value: string | null;
  received_at: Date;
  content_type: string;
  byte_length: number;
  sha256: Buffer;
  status: number;
  set_id: string | null;
  edition: number;
}

const COLUMNS = `s.submission_id, s.kind, o.name as source, c.name as client, s.received_at,
  s.content_type, s.byte_length, s.sha256, s.status, s.set_id, s.edition,
  w.system as person_system, w.value as person_value,
  h.system as sent_by_system, h.value as sent_by_value`;
const TABLES = `submissions s
  join sources o on o.source_key = s.source_key left join clients c on c.client_key = s.client_key
  left join people w on w.person_key = s.person_key left join people h on h.person_key = s.sent_by_key`;

function named(system: string | null, value: string | null): Identifier | null {
  return system === null || value === null ? null : { system, value };
}

function toFacts(row: SubmissionRow): SubmissionFacts {
  return {
    submissionId: row.submission_id,
    kind: row.kind,
    source: row.source,
    client: row.client,
    person: named(row.person_system, row.person_value),
    sentBy: named(row.sent_by_system, row.sent_by_value),
    receivedMs: row.received_at.getTime(),
    contentType: row.content_type,
    byteLength: row.byte_length,
    sha256: row.sha256,
    status: row.status,
    setId: row.set_id,
    edition: row.edition,
  };
}

/** Statuses from here on are refusals, which an index of their own finds among all the others. */
const FIRST_REFUSAL = 400;

/**
 * Submissions that a search finds, newest first: their ids are in the order of receipt.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function listSubmissions(
  pool: Pool,
  search: SubmissionSearch,
  afterId: string | null,
  limit: number,
): Promise<SubmissionFacts[]> {
  const values = new SqlValues();
  const { rows } = await boundSearch(
    pool.query<SubmissionRow>(
      `select ${COLUMNS} from ${TABLES}
        where ${[...demandsOf(search, values), before(afterId, values)].join(' and ')}
        order by s.submission_id desc limit ${values.bind(limit)}`,
      values.list,
    ),
  );
  return rows.map(toFacts);
}

/**
 * How many submissions a search finds; counting stops at `most`.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function countSubmissions(
  pool: Pool,
  search: SubmissionSearch,
  most: number,
): Promise<number> {
  const values = new SqlValues();
  const demands = ['true', ...demandsOf(search, values)].join(' and ');
  return countRows(pool, `from submissions s where ${demands}`, values, most);
}

function before(afterId: string | null, values: SqlValues): string {
  return afterId === null ? 'true' : `s.submission_id < ${values.bind(afterId, 'uuid')}`;
}

function demandsOf(search: SubmissionSearch, values: SqlValues): string[] {
  const { statuses, kinds, source, receivedFromMs, receivedToMs } = search;
  const demands: string[] = [];
  if (statuses !== undefined) {
    demands.push(`s.status = any(${values.bind(statuses, 'smallint[]')})`);
    if (statuses.every((status) => status >= FIRST_REFUSAL)) {
      demands.push(`s.status >= ${FIRST_REFUSAL}`);
    }
  }
  if (kinds !== undefined) demands.push(`s.kind = any(${values.bind(kinds, 'text[]')})`);
  if (source !== undefined) {
    demands.push(
      `s.source_key = (select source_key from sources where name = ${values.bind(source)})`,
    );
  }
  if (receivedFromMs !== null) {
    demands.push(`s.submission_id >= ${values.bind(firstIdAt(receivedFromMs), 'uuid')}`);
  }
  if (receivedToMs !== null) {
    demands.push(`s.submission_id < ${values.bind(firstIdAt(receivedToMs), 'uuid')}`);
  }
  return demands;
}

/** UUID version 7 (RFC 9562 §5.7) begins with 48 bits of ms since the epoch. */
const LAST_ID_MS = 2 ** 48 - 1;

/** No id made at this ms or later is less than this one. */
export function firstIdAt(epochMs: number): string {
  const ms = Math.min(Math.max(Math.floor(epochMs), 0), LAST_ID_MS);
  const digits = ms.toString(16).padStart(12, '0');
  return `${digits.slice(0, 8)}-${digits.slice(8)}-0000-0000-000000000000`;
}

/** The submission of this id and the answer it got; null: there is none. */
export async function findSubmission(
  pool: Pool,
  id: string,
): Promise<{ readonly facts: SubmissionFacts; readonly answer: Buffer } | null> {
  const { rows } = await pool.query<SubmissionRow & { answer: Buffer }>({
    name: 'find-submission',
    text: `select ${COLUMNS}, s.answer from ${TABLES} where s.submission_id = $1`,
    values: [id],
  });
  const row = rows[0];
  return row === undefined ? null : { facts: toFacts(row), answer: unpackBytes(row.answer) };
}

/** The bytes that a submission came in, as they arrived, and their SHA-256; null: there is none of that id. */
export async function findSubmissionBytes(
  pool: Pool,
  id: string,
): Promise<{ readonly bytes: Buffer; readonly sha256: Buffer } | null> {
  const { rows } = await pool.query<{ body: Buffer; sha256: Buffer }>({
    name: 'find-submission-bytes',
    text: `select w.body, w.sha256
             from submissions s join submissions w on w.submission_id = coalesce(s.part_of, s.submission_id)
            where s.submission_id = $1`,
    values: [id],
  });
  const row = rows[0];
  return row === undefined ? null : { bytes: unpackBytes(row.body), sha256: row.sha256 };
}
