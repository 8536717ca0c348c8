import type { ClientBase, Pool } from 'pg';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';

/** One line of the audit trail. Never a value of a reading, never a patient's identifier. */
export interface AuditEntry {
  readonly at?: Date;
  /** Null: the gateway itself, or nobody it knows. */
  readonly clientKey: number | null;
  readonly personKey?: number | null;
  readonly action: string;
  /** HTTP status that was answered. */
  readonly outcome: number;
  /** Path-like name, e.g. `submissions/<id>`. */
  readonly entity?: string;
  readonly detail?: Readonly<Record<string, unknown>>;
}

const AUDIT_COLUMNS: Columns = [
  ['at', 'timestamptz'],
  ['client_key', 'integer'],
  ['person_key', 'integer'],
  ['action', 'text'],
  ['outcome', 'smallint'],
  ['entity', 'text'],
  ['detail', 'jsonb'],
];

function toRecord(entry: AuditEntry): TableRecord {
  return {
    at: (entry.at ?? new Date()).toISOString(),
    client_key: entry.clientKey,
    person_key: entry.personKey ?? null,
    action: entry.action,
    outcome: entry.outcome,
    entity: entry.entity,
    detail: entry.detail,
  };
}

/** Writes audit lines inside the caller's transaction. */
export async function insertAudit(
  client: ClientBase,
  entries: readonly AuditEntry[],
): Promise<void> {
  await insertRecords(client, 'audit', AUDIT_COLUMNS, entries.map(toRecord));
}

/** Writes one audit line on a connection of its own. */
export async function recordAudit(pool: Pool, entry: AuditEntry): Promise<void> {
  const client = await pool.connect();
  try {
    await insertAudit(client, [entry]);
  } finally {
    client.release();
  }
}
