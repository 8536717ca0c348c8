import type { Pool, PoolClient } from 'pg';

/** Runs `work` in one transaction: committed when it resolves, rolled back when it throws. */
export async function inTransaction<T>(
  pool: Pool,
  work: (client: PoolClient) => Promise<T>,
): Promise<T> {
  const client = await pool.connect();
  let broken: Error | undefined;
  try {
    await client.query('begin');
    const result = await work(client);
    await client.query('commit');
    return result;
  } catch (error) {
    // A rollback that fails means the connection is gone: the server rolls back by itself.
    await client.query('rollback').catch((failure: unknown) => {
      broken = failure instanceof Error ? failure : new Error(String(failure));
    });
    throw error;
  } finally {
    client.release(broken);
  }
}
