/** Exports as they are kept: what was asked, and the slices found so far. */
import type { Pool, PoolClient } from 'pg';
import { insertAudit } from './audit.js';
import type { AuditEntry, Origin } from './audit.js';
import { lockExports } from './locks.js';
import { inTransaction } from './transaction.js';

/** What an export holds. */
export interface ExportSelection {
  /** Names of the exportable things, in the order in which they are worked on. */
  readonly parts: readonly string[];
  /** Patients whose data are wanted; null: everybody's. */
  readonly patientKeys: readonly number[] | null;
  /** Changed after this stamp, in ms since the epoch; null: however early. */
  readonly sinceMs: number | null;
  /** Changed before this time; null: up to the state that the export shows. */
  readonly untilMs: number | null;
  /** What the client was allowed to read, narrowing included: no more than that is ever handed over. */
  readonly scopes: readonly string[];
  /** Searches by type, as they were sent; what meets one of a type's is wanted. */
  readonly filters: Readonly<Record<string, readonly string[]>>;
}

export interface NewExport {
  readonly exportId: string;
  readonly clientKey: number;
  readonly request: string;
  readonly asOfMs: number;
  readonly selection: ExportSelection;
  readonly requestedMs: number;
  readonly expiresMs: number;
  /** The request that started it, for the audit trail. */
  readonly origin?: Origin | undefined;
}

export interface ExportRecord extends Omit<NewExport, 'origin'> {
  readonly state: 'running' | 'done' | 'failed';
}

/** A range of keys of one exportable thing. Keys are told in that thing's own words. */
export interface KeyRange {
  /** Exclusive; null: from the first. */
  readonly afterKey: string | null;
  /** Inclusive; null: to the last. */
  readonly untilKey: string | null;
}

export interface ExportFile extends KeyRange {
  readonly number: number;
  readonly part: string;
  readonly resources: number;
}

/** How many exports there may be. */
export interface ExportBounds {
  readonly runningOfClient: number;
  readonly running: number;
  readonly keptOfClient: number;
}

export interface ExportRow {
  export_id: string;
  client_key: number;
  request: string;
  as_of: Date;
  selection: ExportSelection;
  requested_at: Date;
  expires_at: Date;
  state: ExportRecord['state'];
}

/** The `select` list for {@link toExportRecord}. */
export const EXPORT_COLUMNS =
  'export_id, client_key, request, as_of, selection, requested_at, expires_at, state' as const;

export function toExportRecord(row: ExportRow): ExportRecord {
  return {
    exportId: row.export_id,
    clientKey: row.client_key,
    request: row.request,
    asOfMs: row.as_of.getTime(),
    selection: row.selection,
    requestedMs: row.requested_at.getTime(),
    expiresMs: row.expires_at.getTime(),
    state: row.state,
  };
}

/** Keeps a new export, to be worked on by whichever process comes first. */
export async function insertExport(
  pool: Pool,
  one: NewExport,
  bounds: ExportBounds,
): Promise<'kept' | 'too-many'> {
  return inTransaction(pool, async (client) => {
    await lockExports(client);
    if (await isFull(client, one, bounds)) return 'too-many';
    await client.query(
      `insert into exports (export_id, client_key, request, as_of, selection, requested_at, expires_at, state)
       values ($1, $2, $3, $4, $5, $6, $7, 'running')`,
      [
        one.exportId,
        one.clientKey,
        one.request,
        new Date(one.asOfMs),
        one.selection,
        new Date(one.requestedMs),
        new Date(one.expiresMs),
      ],
    );
    const { parts, patientKeys } = one.selection;
    const detail = { parts, ...(patientKeys === null ? {} : { patients: patientKeys.length }) };
    await insertAudit(client, [auditOf(one, 'export-started', detail)]);
    return 'kept';
  });
}

async function isFull(
  client: PoolClient,
  { clientKey, requestedMs }: NewExport,
  bounds: ExportBounds,
): Promise<boolean> {
  const { rows } = await client.query<{ running: number; running_own: number; own: number }>(
    `select count(*) filter (where state = 'running')::int as running,
            count(*) filter (where state = 'running' and client_key = $1)::int as running_own,
            count(*) filter (where client_key = $1)::int as own
       from exports where expires_at > $2 and (state = 'running' or client_key = $1)`,
    [clientKey, new Date(requestedMs)],
  );
  const found = rows[0];
  return (
    found !== undefined &&
    (found.running >= bounds.running ||
      found.running_own >= bounds.runningOfClient ||
      found.own >= bounds.keptOfClient)
  );
}

function auditOf(
  { exportId, clientKey, origin }: Pick<NewExport, 'exportId' | 'clientKey' | 'origin'>,
  action: string,
  detail?: Readonly<Record<string, unknown>>,
): AuditEntry {
  const entity = `exports/${exportId}`;
  return { clientKey, origin, action, outcome: 202, entity, detail };
}

/** The export of that client; null: it has none of that id, or it has expired or was cancelled. */
export async function findExport(
  pool: Pool,
  exportId: string,
  clientKey: number,
  nowMs: number,
): Promise<ExportRecord | null> {
  const { rows } = await pool.query<ExportRow>(
    `select ${EXPORT_COLUMNS} from exports where export_id = $1 and client_key = $2 and expires_at > $3`,
    [exportId, clientKey, new Date(nowMs)],
  );
  return rows[0] === undefined ? null : toExportRecord(rows[0]);
}

/** Ends the export and forgets it. False: {@link findExport} would find none. */
export async function cancelExport(
  pool: Pool,
  exportId: string,
  { clientKey, origin }: Pick<NewExport, 'clientKey' | 'origin'>,
  nowMs: number,
): Promise<boolean> {
  return inTransaction(pool, async (client) => {
    const { rowCount } = await client.query(
      'delete from exports where export_id = $1 and client_key = $2 and expires_at > $3',
      [exportId, clientKey, new Date(nowMs)],
    );
    if (rowCount === 0) return false;
    await insertAudit(client, [auditOf({ exportId, clientKey, origin }, 'export-cancelled')]);
    return true;
  });
}

/** The slices found so far, in order; those without a resource too. */
export async function listExportFiles(pool: Pool, exportId: string): Promise<ExportFile[]> {
  const { rows } = await pool.query<ExportFile>(
    `select number, part, after_key as "afterKey", until_key as "untilKey", resources
       from export_files where export_id = $1 order by number`,
    [exportId],
  );
  return rows;
}
