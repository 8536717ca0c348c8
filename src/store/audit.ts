/** Entries of the audit trail: who did what to what, and what was answered. */
import { randomUUID } from 'node:crypto';
import type { ClientBase, Pool } from 'pg';
import { actOf } from './audit-acts.js';
import type { AuditRecord } from './audit-hashes.js';
import { insertRecords } from './insert-records.js';
import type { Columns } from './insert-records.js';
import { inTransaction } from './transaction.js';

/** Which request it was, and from where. */
export interface Origin {
  /** X-Request-Id, as it was sent or given. */
  readonly requestId: string | null;
  /** Network address. */
  readonly address: string | null;
}

/** One entry of the audit trail. Never a value of a reading, never a patient's identifier. */
export interface AuditEntry {
  readonly at?: Date;
  /** Null: the gateway itself, or nobody it knows. */
  readonly clientKey: number | null;
  readonly personKey?: number | null;
  readonly action: string;
  /** HTTP status that was answered. */
  readonly outcome: number;
  /** Path-like name, e.g. `submissions/<id>`. */
  readonly entity?: string | undefined;
  /** The patient that it was about. */
  readonly patientKey?: number | null;
  readonly origin?: Origin | undefined;
  readonly detail?: Readonly<Record<string, unknown>> | undefined;
}

const AUDIT_COLUMNS: Columns = [
  ['audit_id', 'uuid'],
  ['at', 'timestamptz'],
  ['writer_key', 'integer'],
  ['client_key', 'integer'],
  ['person_key', 'integer'],
  ['patient_key', 'integer'],
  ['action', 'text'],
  ['outcome', 'smallint'],
  ['entity', 'text'],
  ['request_id', 'text'],
  ['address', 'text'],
  ['detail', 'jsonb'],
];

/** The `select` list for {@link toAuditRecord}. */
export const AUDIT_RECORD_COLUMNS = AUDIT_COLUMNS.map(([name]) => `a.${name}`).join(', ');

/** One row of a query with {@link AUDIT_RECORD_COLUMNS}. */
export type AuditRow = Omit<AuditRecord, 'at'> & { readonly at: Date };

export function toAuditRecord(row: AuditRow): AuditRecord {
  const { audit_id, at, writer_key, client_key, person_key, patient_key } = row;
  const { action, outcome, entity, request_id, address, detail } = row;
  return {
    ...{ audit_id, at: at.toISOString(), writer_key, client_key, person_key, patient_key },
    ...{ action, outcome, entity, request_id, address, detail },
  };
}

const SEQUENCE_END = 0x1000;
let lastMs = 0;
let sequence = 0;

/**
 * The id of an entry that is made now: a UUID version 7 whose 12 bits after the time count the entries of
 * a millisecond (RFC 9562 §6.2, method 1), so that the ids of a process sort as its entries were made.
 */
function newAuditId(): string {
  const nowMs = Date.now();
  sequence = nowMs > lastMs ? 0 : sequence + 1;
  lastMs = Math.max(nowMs, lastMs);
  if (sequence === SEQUENCE_END) {
    sequence = 0;
    lastMs += 1;
  }
  const count = sequence.toString(16).padStart(3, '0');
  return `${uuidTime(lastMs)}-7${count}${randomUUID().slice(18)}`;
}

/** The 48 bits of time that a UUID version 7 begins with. */
function uuidTime(epochMs: number): string {
  const time = Math.trunc(epochMs).toString(16).padStart(12, '0');
  return `${time.slice(0, 8)}-${time.slice(8)}`;
}

/** The least id that an entry recorded at this moment or later can have. */
export function firstAuditIdAt(epochMs: number): string {
  return `${uuidTime(Math.max(0, epochMs))}-0000-0000-000000000000`;
}

/** When an entry was recorded, in ms since the epoch. */
export function recordedMsOf(auditId: string): number {
  return Number.parseInt(auditId.slice(0, 8) + auditId.slice(9, 13), 16);
}

/** The entry as it is kept, with an id of its own. */
export function toRecord(entry: AuditEntry, writerKey: number | null): AuditRecord {
  return {
    audit_id: newAuditId(),
    at: (entry.at ?? new Date()).toISOString(),
    writer_key: writerKey,
    client_key: entry.clientKey,
    person_key: entry.personKey ?? null,
    patient_key: entry.patientKey ?? null,
    action: entry.action,
    outcome: entry.outcome,
    entity: entry.entity ?? null,
    request_id: entry.origin?.requestId ?? null,
    address: entry.origin?.address ?? null,
    detail: entry.detail ?? null,
  };
}

export async function insertAuditRecords(
  client: ClientBase,
  records: readonly AuditRecord[],
): Promise<void> {
  await insertRecords(client, 'audit', AUDIT_COLUMNS, records);
}

/** Writes entries inside the caller's transaction; once it is committed they are chained. */
export async function insertAudit(
  client: ClientBase,
  entries: readonly AuditEntry[],
): Promise<void> {
  const act = actOf(client);
  const records = entries.map((entry) => toRecord(entry, act?.keeper.writerKey ?? null));
  await insertAuditRecords(client, records);
  act?.records.push(...records);
}

/** Writes one entry in a transaction of its own; resolves when it is on disk. */
export async function recordAudit(pool: Pool, entry: AuditEntry): Promise<void> {
  await inTransaction(pool, (client) => insertAudit(client, [entry]));
}
