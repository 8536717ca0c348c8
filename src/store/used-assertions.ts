/** Which assertions clients have proved themselves by: each is good once, whichever process it comes to. */
import { createHash } from 'node:crypto';
import type { Pool } from 'pg';

/** Rows that have ended are cleared so many at a time, each time an assertion is used. */
const CLEARED_AT_ONCE = 100;
/** Clocks of several processes differ a little: nothing is cleared before all of them agree. */
const CLEAR_AFTER_MS = 60_000;

/**
 * Uses an assertion up. False: it was used before.
 * @param expiresAtMs when it is refused for its age, in ms since the epoch
 */
export async function useAssertion(
  pool: Pool,
  clientKey: number,
  jti: string,
  expiresAtMs: number,
): Promise<boolean> {
  const hash = createHash('sha256').update(jti).digest();
  const nowMs = Date.now();
  // Cleared rows are locked by one process only, so that two never wait for each other.
  await pool.query({
    name: 'clear-used-assertions',
    text: `delete from used_assertions where (client_key, jti_sha256) in (
             select client_key, jti_sha256 from used_assertions where expires_at < $1
              order by expires_at limit $2 for update skip locked)`,
    values: [new Date(nowMs - CLEAR_AFTER_MS), CLEARED_AT_ONCE],
  });
  const { rowCount } = await pool.query({
    name: 'use-assertion',
    text: `insert into used_assertions (client_key, jti_sha256, expires_at) values ($1, $2, $3)
           on conflict do nothing`,
    values: [clientKey, hash, new Date(expiresAtMs)],
  });
  return rowCount === 1;
}
