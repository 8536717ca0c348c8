/** The processes that write the audit trail: registered, alive, closed. */
import type { ClientBase, Pool } from 'pg';
import type { Writer } from './audit-chaining.js';

export interface RegisteredWriter extends Writer {
  /** For the values of searches. */
  readonly digestKey: Buffer;
}

/** The key of the digests that stand for the values of searches. */
export async function readDigestKey(pool: Pool): Promise<Buffer> {
  const { rows } = await pool.query<{ digest_key: Buffer }>(
    'select digest_key from audit_digest_key',
  );
  const row = rows[0];
  if (row === undefined) throw new Error('audit_digest_key has lost its row');
  return row.digest_key;
}

/** Puts a process down as one that writes entries. */
export async function registerWriter(pool: Pool, id: string): Promise<RegisteredWriter> {
  const digestKey = await readDigestKey(pool);
  const { rows } = await pool.query<{ writer_key: number }>(
    `insert into audit_writers (writer_id, started_at, seen_at)
     values ($1, now(), now()) returning writer_key`,
    [id],
  );
  const row = rows[0];
  if (row === undefined)
    throw new Error('a writer of the audit trail was registered without a key');
  return { key: row.writer_key, id, digestKey };
}

/** How a writer stands, its row locked until the transaction ends: nobody else adds to its chain. */
export async function lockWriter(
  client: ClientBase,
  { key }: Writer,
): Promise<{ readonly nowMs: number; readonly closed: boolean }> {
  const { rows } = await client.query<{ now: Date; closed: boolean }>({
    name: 'lock-audit-writer',
    text: `select clock_timestamp() as now, closed_at is not null as closed
             from audit_writers where writer_key = $1 for update`,
    values: [key],
  });
  const row = rows[0];
  if (row === undefined) throw new Error('the audit trail has lost the row of this process');
  return { nowMs: row.now.getTime(), closed: row.closed };
}

/** Says that a writer lives, or that its chain is ended. */
export async function markSeen(
  client: ClientBase,
  { key }: Writer,
  nowMs: number,
  closed: boolean,
): Promise<void> {
  const now = new Date(nowMs);
  await client.query({
    name: 'mark-audit-writer-seen',
    text: 'update audit_writers set seen_at = $2, closed_at = $3 where writer_key = $1',
    values: [key, now, closed ? now : null],
  });
}

/** A writer that is not closed and has not been heard of since a moment, its row locked; null: there is none. */
export async function lockLostWriter(
  client: ClientBase,
  ownKey: number,
  silentMs: number,
): Promise<(Writer & { readonly nowMs: number; readonly seenMs: number | null }) | null> {
  const { rows } = await client.query<{ key: number; id: string; now: Date; seen: Date | null }>(
    `select writer_key as key, writer_id as id, clock_timestamp() as now,
            nullif(seen_at, '-infinity') as seen
       from audit_writers
      where closed_at is null and writer_key <> $1
        and seen_at < clock_timestamp() - $2 * interval '1 ms'
      order by seen_at limit 1 for update skip locked`,
    [ownKey, silentMs],
  );
  const row = rows[0];
  if (row === undefined) return null;
  const { key, id, now, seen } = row;
  return { key, id, nowMs: now.getTime(), seenMs: seen?.getTime() ?? null };
}
