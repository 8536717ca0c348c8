/** What an analyst sees of a message beside its readings. */
import type { Pool } from 'pg';
import type { UnreadReason } from '../vitals/device-report.js';

/** A row of a message that brought no reading. */
export interface KeptUnreadRow {
  readonly at: string;
  readonly reason: UnreadReason;
  readonly message: string;
  readonly code: {
    readonly system: string | null;
    readonly code: string | null;
    readonly name: string | null;
  };
  readonly unit: string | null;
  readonly value: string | null;
  /** When a replay made a reading of it, in ms since the epoch. */
  readonly readAtMs: number | null;
}

/** The header of an HL7 v2 message, and how it was acknowledged. */
export interface KeptMessage {
  readonly controlId: string | null;
  readonly messageType: string | null;
  readonly sentAtMs: number | null;
  readonly acknowledged: string | null;
}

export interface MessageFacts {
  /** Null: it was no HL7 v2 message. */
  readonly message: KeptMessage | null;
  /** The other submissions that the same message was kept as. */
  readonly parts: readonly string[];
  readonly unread: readonly KeptUnreadRow[];
}

interface UnreadRow {
  at: string;
  reason: UnreadReason;
  message: string;
  code_system: string | null;
  code: string | null;
  code_name: string | null;
  unit: string | null;
  value: string | null;
  read_at: Date | null;
}

/** The message that a submission came in, whichever of its parts it is. */
export async function findMessageFacts(pool: Pool, submissionId: string): Promise<MessageFacts> {
  const { rows: parts } = await pool.query<{ submission_id: string; is_whole: boolean }>({
    name: 'find-message-parts',
    text: `with whole as (
             select coalesce(part_of, submission_id) as id from submissions where submission_id = $1)
           select s.submission_id, s.part_of is null as is_whole from submissions s, whole
            where s.submission_id = whole.id or s.part_of = whole.id
            order by is_whole desc, s.submission_id`,
    values: [submissionId],
  });
  const whole = parts.find((part) => part.is_whole)?.submission_id ?? submissionId;
  return {
    message: await findHeader(pool, whole),
    parts: parts.map((part) => part.submission_id).filter((id) => id !== submissionId),
    unread: await listUnreadRows(pool, submissionId),
  };
}

async function findHeader(pool: Pool, submissionId: string): Promise<KeptMessage | null> {
  const { rows } = await pool.query<{
    control_id: string | null;
    message_type: string | null;
    sent_at: Date | null;
    acknowledged: string | null;
  }>({
    name: 'find-message-header',
    text: 'select control_id, message_type, sent_at, acknowledged from messages where submission_id = $1',
    values: [submissionId],
  });
  const row = rows[0];
  if (row === undefined) return null;
  return {
    controlId: row.control_id,
    messageType: row.message_type,
    sentAtMs: row.sent_at?.getTime() ?? null,
    acknowledged: row.acknowledged,
  };
}

async function listUnreadRows(pool: Pool, submissionId: string): Promise<KeptUnreadRow[]> {
  const { rows } = await pool.query<UnreadRow>({
    name: 'list-unread-rows',
    text: `select at, reason, message, code_system, code, code_name, unit, value, read_at
             from unread_rows where submission_id = $1 order by place`,
    values: [submissionId],
  });
  return rows.map((row) => ({
    at: row.at,
    reason: row.reason,
    message: row.message,
    code: { system: row.code_system, code: row.code, name: row.code_name },
    unit: row.unit,
    value: row.value,
    readAtMs: row.read_at?.getTime() ?? null,
  }));
}
