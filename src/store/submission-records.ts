/** Submissions as they are written and found again. */
import type { ClientBase } from 'pg';
import type { NormalisedSet } from '../vitals/shapes.js';
import type { Origin } from './audit.js';
import { packBytes, unpackBytes } from './compress.js';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';

const SUBMISSION_COLUMNS: Columns = [
  ['submission_id', 'uuid'],
  ['source_key', 'integer'],
  ['client_key', 'integer'],
  ['received_at', 'timestamptz'],
  ['kind', 'text'],
  ['content_type', 'text'],
  ['set_id', 'uuid'],
  ['holds_key', 'boolean'],
  ['byte_length', 'integer'],
  ['sha256', 'bytea'],
  ['body', 'bytea'],
  ['status', 'smallint'],
  ['answer', 'bytea'],
  ['edition', 'smallint'],
  ['changed_stamp', 'timestamptz'],
  ['patient_key', 'integer'],
  ['identity_doubted_stamp', 'timestamptz'],
  ['part_of', 'uuid'],
  ['delivered', 'bytea'],
  ['person_key', 'integer'],
  ['sent_by_key', 'integer'],
];

/** Sets, decisions about readings, readings against a known value, messages that brought no set. */
export type SubmissionKind = 'set' | 'decision' | 'reference-check' | 'message';

/** What arrived, before anything is known about it. */
export interface Envelope {
  /** A UUID version 7 whose last 16 bits are zero. */
  readonly submissionId: string;
  readonly sourceKey: number;
  /** Null: a message from a peer, without a token. */
  readonly clientKey: number | null;
  /** Who was signed in and sent it; null: a program. */
  readonly personKey: number | null;
  /** Whose it is, where `personKey` handed it in for somebody else; null: the sender's own. */
  readonly takenByKey: number | null;
  readonly receivedAtMs: number;
  readonly kind: SubmissionKind;
  readonly contentType: string;
  readonly body: Buffer;
  /** Of the whole that arrived. */
  readonly sha256: Buffer;
  /** The request that brought it; a message has none. */
  readonly origin?: Origin | undefined;
  /** The submission that holds the bytes, where this is a further part of it: then `body` is empty. */
  readonly partOf?: string;
}

/** What became of it. */
export interface SubmissionFate {
  readonly setId: string | null;
  readonly holdsKey: boolean;
  readonly status: number;
  readonly answer: Buffer;
  readonly edition: number;
  readonly patientKey: number | null;
  /** The set that a message brought; absent: the bytes are the set. */
  readonly delivered?: NormalisedSet | undefined;
}

/** The row of a submission; its stamps are added once they are known. */
export function submissionRecord(
  envelope: Envelope,
  fate: SubmissionFate,
): Record<string, unknown> {
  return {
    submission_id: envelope.submissionId,
    source_key: envelope.sourceKey,
    client_key: envelope.clientKey,
    received_at: new Date(envelope.receivedAtMs).toISOString(),
    kind: envelope.kind,
    content_type: envelope.contentType,
    set_id: fate.setId,
    holds_key: fate.holdsKey,
    byte_length: envelope.body.length,
    sha256: `\\x${envelope.sha256.toString('hex')}`,
    body: packBytes(envelope.body),
    status: fate.status,
    answer: packBytes(fate.answer),
    edition: fate.edition,
    patient_key: fate.patientKey,
    part_of: envelope.partOf,
    person_key: envelope.takenByKey ?? envelope.personKey,
    sent_by_key: envelope.takenByKey === null ? null : envelope.personKey,
    delivered: fate.delivered && packBytes(Buffer.from(JSON.stringify(fate.delivered))),
  };
}

/** The set that a message brought, as it was kept. */
export function deliveredSet(packed: Buffer): NormalisedSet {
  return JSON.parse(unpackBytes(packed).toString()) as NormalisedSet;
}

export async function insertSubmissions(
  client: ClientBase,
  records: readonly TableRecord[],
): Promise<void> {
  await insertRecords(client, 'submissions', SUBMISSION_COLUMNS, records);
}

/** The submission that holds a set's key. Body and answer are compressed. */
export interface KeyHolder {
  readonly submission_id: string;
  readonly source_key: number;
  readonly set_id: string;
  readonly status: number;
  readonly sha256: Buffer;
  readonly body: Buffer;
  readonly answer: Buffer;
}

/** The holders of these keys (pairs of set id and source), as far as they are taken. */
export async function findKeyHolders(
  client: ClientBase,
  keys: readonly { readonly setId: string; readonly sourceKey: number }[],
): Promise<KeyHolder[]> {
  const { rows } = await client.query<KeyHolder>({
    name: 'find-key-holders',
    text: `select s.submission_id, s.source_key, s.set_id, s.status, s.sha256, s.body, s.answer
             from unnest($1::uuid[], $2::int[]) as k(set_id, source_key)
             join submissions s on s.set_id = k.set_id and s.source_key = k.source_key and s.holds_key`,
    values: [keys.map((key) => key.setId), keys.map((key) => key.sourceKey)],
  });
  return rows;
}
