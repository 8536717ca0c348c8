/** What the store keeps of a message beside its sets: its header, and the rows that nobody could read. */
import type { ClientBase } from 'pg';
import type { UnreadRow } from '../vitals/device-report.js';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';

/** The header of an HL7 v2 message, as far as it is kept. */
export interface MessageHeader {
  readonly controlId: string | null;
  readonly messageType: string | null;
  /** By the sender's clock, in ms since the epoch. */
  readonly sentAtMs: number | null;
  /** Null: no acknowledgement was asked for. */
  readonly acknowledged: string | null;
}

/** A row without a reading, at its place in the submission. */
export type PlacedUnreadRow = UnreadRow & { readonly index: number };

const MESSAGE_COLUMNS: Columns = [
  ['submission_id', 'uuid'],
  ['source_key', 'integer'],
  ['control_id', 'text'],
  ['message_type', 'text'],
  ['sent_at', 'timestamptz'],
  ['acknowledged', 'text'],
];

export function messageRecord(
  submissionId: string,
  sourceKey: number,
  header: MessageHeader,
): TableRecord {
  return {
    submission_id: submissionId,
    source_key: sourceKey,
    control_id: header.controlId,
    message_type: header.messageType,
    sent_at: header.sentAtMs === null ? null : new Date(header.sentAtMs).toISOString(),
    acknowledged: header.acknowledged,
  };
}

const UNREAD_COLUMNS: Columns = [
  ['submission_id', 'uuid'],
  ['place', 'smallint'],
  ['at', 'text'],
  ['reason', 'text'],
  ['message', 'text'],
  ['code_system', 'text'],
  ['code', 'text'],
  ['code_name', 'text'],
  ['unit', 'text'],
  ['value', 'text'],
];

export function unreadRecord(submissionId: string, row: PlacedUnreadRow): TableRecord {
  return {
    submission_id: submissionId,
    place: row.index,
    at: row.at,
    reason: row.reason,
    message: row.message,
    code_system: row.code?.system,
    code: row.code?.code,
    code_name: row.code?.name,
    unit: row.unit,
    value: row.value,
  };
}

/** Writes both; their submissions must have been written. */
export async function insertMessageRecords(
  client: ClientBase,
  messages: readonly TableRecord[],
  unread: readonly TableRecord[],
): Promise<void> {
  await insertRecords(client, 'messages', MESSAGE_COLUMNS, messages);
  await insertRecords(client, 'unread_rows', UNREAD_COLUMNS, unread);
}
