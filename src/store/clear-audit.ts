/** Retention of the audit trail: whole sealed segments go, their seals stay. */
import type { Pool } from 'pg';
import { insertAudit } from './audit.js';
import { inTransaction } from './transaction.js';

/** What the entries about the trail itself are about. */
export const CLEARED_ENTITY = 'audit';

const SEGMENTS_AT_A_TIME = 200;

/**
 * Clears all sealed segments of minutes before a moment, a few at a time. First goes an entry that says so,
 * in one transaction with the first of them: by it the verifier knows that nothing was stolen.
 *
 * @returns how many segments were cleared
 */
export async function clearAudit(pool: Pool, beforeMs: number): Promise<number> {
  const before = new Date(beforeMs);
  let cleared = 0;
  for (;;) {
    const some = await inTransaction(pool, async (client) => {
      if (cleared === 0) {
        const detail = { before: before.toISOString() };
        const entry = { clientKey: null, action: 'audit-cleared', outcome: 200, detail };
        await insertAudit(client, [{ ...entry, entity: CLEARED_ENTITY }]);
      }
      const { rows } = await client.query<{ cleared: number }>(
        'select clear_audit_segments($1, $2) as cleared',
        [before, SEGMENTS_AT_A_TIME],
      );
      return rows[0]?.cleared ?? 0;
    });
    if (some === 0) return cleared;
    cleared += some;
  }
}
