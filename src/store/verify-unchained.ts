/** Entries that were in no chain when the trail was looked at: about to be chained, or put there by somebody. */
import { setTimeout as sleep } from 'node:timers/promises';
import type { Pool } from 'pg';
import { AuditFault } from './audit-fault.js';

/** A process that lives chains, and says that it lives, sooner than this. */
const LIFE_SHOWS_MS = 25_000;
const LOOK_AGAIN_MS = 500;
/** So long a process that was taken for lost may need to come back to its chain. */
const COME_BACK_MS = 3_000;

interface Outsider {
  audit_id: string;
  /** The process that it names has a chain that is not ended. */
  open: boolean;
  /** That process has been heard of since this look began. */
  alive: boolean;
}

/**
 * @param ids entries that were in no chain
 * @returns how many wait for the next process to chain them, because theirs was killed
 * @throws AuditFault when nobody is going to chain one
 */
export async function checkUnchained(pool: Pool, ids: readonly string[]): Promise<number> {
  if (ids.length === 0) return 0;
  const { rows } = await pool.query<{ now: Date }>('select clock_timestamp() as now');
  const since = rows[0]?.now ?? new Date();
  const startMs = performance.now();
  for (;;) {
    const outside = await listOutside(pool, ids, since);
    if (outside.length === 0) return 0;
    const waitedMs = performance.now() - startMs;
    const stray = outside.find(({ open, alive }) =>
      open ? alive && waitedMs > LIFE_SHOWS_MS : waitedMs > COME_BACK_MS,
    );
    if (stray !== undefined) throw new AuditFault(`Entry ${stray.audit_id} is in no chain`);
    if (waitedMs > LIFE_SHOWS_MS) return outside.length;
    await sleep(LOOK_AGAIN_MS);
  }
}

async function listOutside(pool: Pool, ids: readonly string[], since: Date): Promise<Outsider[]> {
  const { rows } = await pool.query<Outsider>(
    `select a.audit_id, coalesce(w.closed_at is null and w.writer_key is not null, false) as open,
            coalesce(w.seen_at > $2, false) as alive
       from audit a left join audit_writers w on w.writer_key = a.writer_key
      where a.audit_id = any($1::uuid[])
        and not exists (select from audit_chain c where c.audit_id = a.audit_id)
      order by a.audit_id`,
    [ids, since],
  );
  return rows;
}
