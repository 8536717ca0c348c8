import type { Pool, PoolClient } from 'pg';
import { beginAct, endAct, keeperOf } from './audit-acts.js';

/** Runs `work` in one transaction: committed when it resolves, rolled back when it throws. */
export async function inTransaction<T>(
  pool: Pool,
  work: (client: PoolClient) => Promise<T>,
): Promise<T> {
  const keeper = keeperOf(pool);
  if (keeper?.writerKey === null) await keeper.register();
  const client = await pool.connect();
  let broken: Error | undefined;
  let committing = false;
  try {
    await client.query('begin');
    beginAct(client, keeper);
    const result = await work(client);
    committing = true;
    await client.query('commit');
    endAct(client, 'committed');
    return result;
  } catch (error) {
    endAct(client, committing ? 'doubted' : 'undone');
    // A rollback that fails means the connection is gone: the server rolls back by itself.
    await client.query('rollback').catch((failure: unknown) => {
      broken = failure instanceof Error ? failure : new Error(String(failure));
    });
    throw error;
  } finally {
    client.release(broken);
  }
}
