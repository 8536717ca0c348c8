import type { ClientBase, Pool } from 'pg';

/**
 * Takes the commit stamp of this transaction (ms since the epoch) and with it the publication lock.
 *
 * Call it as the last thing before the rows that carry the stamp are written and the transaction
 * commits: the lock is held until then, so that stamps rise in commit order and a reader who asks
 * for everything after the greatest stamp it has seen misses nothing. The stamp never goes back,
 * whatever the clock does.
 */
export async function takeStamp(client: ClientBase): Promise<number> {
  const { rows } = await client.query<{ last: string; now: string }>({
    name: 'lock-publication-clock',
    text: `select (extract(epoch from last_stamp) * 1000)::bigint::text as last,
                  floor(extract(epoch from clock_timestamp()) * 1000)::bigint::text as now
             from publication_clock for update`,
  });
  const clock = rows[0];
  if (clock === undefined) throw new Error('publication_clock has lost its row');
  const stampMs = Math.max(Number(clock.now), Number(clock.last) + 1);
  await client.query({
    name: 'set-publication-clock',
    text: 'update publication_clock set last_stamp = $1',
    values: [new Date(stampMs)],
  });
  return stampMs;
}

/**
 * The stamp of the site's last commit. Whatever carries this stamp or an earlier one can be read:
 * stamps rise in the order of commits, and become visible together with what they stamp.
 */
export async function readLastStamp(pool: Pool): Promise<number> {
  const { rows } = await pool.query<{ last: string }>({
    name: 'read-last-stamp',
    text: 'select (extract(epoch from last_stamp) * 1000)::bigint::text as last from publication_clock',
  });
  const clock = rows[0];
  if (clock === undefined) throw new Error('publication_clock has lost its row');
  return Number(clock.last);
}
