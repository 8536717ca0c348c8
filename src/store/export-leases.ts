/** The work on exports as it is kept: who is at it, how far it is, and what has become of it. */
import type { Pool, PoolClient } from 'pg';
import { EXPORT_COLUMNS, toExportRecord } from './exports.js';
import type { ExportFile, ExportRecord, ExportRow } from './exports.js';
import { inTransaction } from './transaction.js';

/** Removes what has expired, with its files. */
export async function deleteExpiredExports(pool: Pool, nowMs: number): Promise<void> {
  await pool.query('delete from exports where expires_at <= $1', [new Date(nowMs)]);
}

/** Who is at work on an export, and until when nobody else may be. */
export interface Lease {
  readonly holder: string;
  readonly nowMs: number;
  readonly untilMs: number;
}

/** Takes the oldest running export that nobody is at work on; null: there is none. */
export async function claimExport(pool: Pool, lease: Lease): Promise<ExportRecord | null> {
  const { rows } = await pool.query<ExportRow>({
    name: 'claim-export',
    text: `update exports set lease = $1, leased_until = $2
            where export_id = (select export_id from exports
                                where state = 'running' and expires_at > $3
                                  and (leased_until is null or leased_until <= $3)
                                order by requested_at limit 1 for update skip locked)
           returning ${EXPORT_COLUMNS}`,
    values: [lease.holder, new Date(lease.untilMs), new Date(lease.nowMs)],
  });
  return rows[0] === undefined ? null : toExportRecord(rows[0]);
}

/** What a stretch of work has come to: another slice, the end, or only a sign of life. */
export type ExportProgress =
  | { readonly kind: 'at-work' }
  | { readonly kind: 'file'; readonly file: ExportFile }
  | { readonly kind: 'done' };

/** Writes it down and keeps the lease. False: the export is gone, or another process has it. */
export async function noteProgress(
  pool: Pool,
  exportId: string,
  { holder, untilMs }: Lease,
  progress: ExportProgress,
): Promise<boolean> {
  return inTransaction(pool, async (client) => {
    const { rowCount } = await client.query(
      `update exports set leased_until = $3, state = $4
        where export_id = $1 and lease = $2 and state = 'running'`,
      [exportId, holder, new Date(untilMs), progress.kind === 'done' ? 'done' : 'running'],
    );
    if (rowCount === 0) return false;
    if (progress.kind === 'file') await insertFile(client, exportId, progress.file);
    return true;
  });
}

async function insertFile(client: PoolClient, exportId: string, file: ExportFile): Promise<void> {
  await client.query(
    `insert into export_files (export_id, number, part, after_key, until_key, resources)
     values ($1, $2, $3, $4, $5, $6)`,
    [exportId, file.number, file.part, file.afterKey, file.untilKey, file.resources],
  );
}

/** Gives the export back, to be taken up again, or counts a failure: after `attempts` it has failed for good. */
export async function releaseExport(
  pool: Pool,
  exportId: string,
  holder: string,
  failure: { readonly attempts: number } | null,
): Promise<void> {
  const attempts = failure?.attempts ?? 0;
  await pool.query(
    `update exports set leased_until = null, failures = failures + $3,
            state = case when $3 = 1 and failures + 1 >= $4 then 'failed' else state end
      where export_id = $1 and lease = $2 and state = 'running'`,
    [exportId, holder, failure === null ? 0 : 1, attempts],
  );
}
