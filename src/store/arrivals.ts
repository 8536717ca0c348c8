/** What became of submissions, for lists of what arrived: answers, acknowledgements, verdicts. */
import type { Pool } from 'pg';
import type { Verdict } from '../vitals/words.js';
import { unpackBytes } from './compress.js';
import { firstIdAt } from './review-submissions.js';

/** What became of one submission. */
export interface ArrivalFate {
  /** The body of the first answer. */
  readonly answer: Buffer;
  /** The header of an HL7 v2 message; null: it was none. */
  readonly message: {
    readonly type: string | null;
    readonly controlId: string | null;
    /** The code of the first acknowledgement; null: none was due. */
    readonly acknowledged: string | null;
  } | null;
  /** Its readings as they stand now, and its rows that brought none. */
  readonly readings: Readonly<Record<Verdict, number>>;
  readonly unreadRows: number;
}

interface FateRow {
  submission_id: string;
  answer: Buffer;
  is_message: boolean;
  message_type: string | null;
  control_id: string | null;
  acknowledged: string | null;
  accepted: number;
  noted: number;
  held: number;
  rejected: number;
  unread: number;
}

/** By the id of the submission. Meant for a page of them: each costs some look-ups. */
export async function readFates(
  pool: Pool,
  submissionIds: readonly string[],
): Promise<Map<string, ArrivalFate>> {
  if (submissionIds.length === 0) return new Map();
  const { rows } = await pool.query<FateRow>({
    name: 'read-fates',
    text: `select s.submission_id, s.answer, m.submission_id is not null as is_message, m.message_type,
                  m.control_id, m.acknowledged, r.accepted, r.noted, r.held, r.rejected, u.unread
             from submissions s
             left join messages m on m.submission_id = coalesce(s.part_of, s.submission_id)
             cross join lateral (
               select (count(*) filter (where verdict = 'accepted'))::int as accepted,
                      (count(*) filter (where verdict = 'noted'))::int as noted,
                      (count(*) filter (where verdict = 'held'))::int as held,
                      (count(*) filter (where verdict = 'rejected'))::int as rejected
                 from readings
                where reading_id > s.submission_id
                  and reading_id <= (left(s.submission_id::text, 32) || 'ffff')::uuid
                  and superseded is null) r
             cross join lateral (
               select count(*)::int as unread from unread_rows
                where submission_id = s.submission_id and read_at is null) u
            where s.submission_id = any($1::uuid[])`,
    values: [submissionIds],
  });
  return new Map(rows.map((row) => [row.submission_id, toFate(row)]));
}

function toFate(row: FateRow): ArrivalFate {
  const { accepted, noted, held, rejected } = row;
  return {
    answer: unpackBytes(row.answer),
    message: row.is_message
      ? { type: row.message_type, controlId: row.control_id, acknowledged: row.acknowledged }
      : null,
    readings: { accepted, noted, held, rejected },
    unreadRows: row.unread,
  };
}

/** Submissions that were refused since a time (ms since the epoch), by source key. */
export async function countRefusedSince(pool: Pool, fromMs: number): Promise<Map<number, number>> {
  const { rows } = await pool.query<{ source_key: number; count: number }>({
    name: 'count-refused-since',
    text: `select source_key, count(*)::int as count from submissions
            where status >= 400 and submission_id >= $1 group by source_key`,
    values: [firstIdAt(fromMs)],
  });
  return new Map(rows.map((row) => [row.source_key, row.count]));
}
