import pg from 'pg';
import { isDatabaseAway } from '../../../src/store/database-away.js';
import { openPool } from '../../../src/store/pool.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';

let database: TestDatabase;

beforeAll(async () => {
  database = await openTestDatabase();
});

afterAll(async () => {
  await database.close();
});

async function failure(work: Promise<unknown>): Promise<unknown> {
  try {
    await work;
  } catch (error) {
    return error;
  }
  throw new Error('it did not fail');
}

function poolOf(url: string, statementTimeoutMs = 10_000): pg.Pool {
  const { schema } = database;
  return openPool({ databaseUrl: url, schema, maxConnections: 1, statementTimeoutMs });
}

// Real failures of the real driver: what they look like is not ours to invent.
describe('the database is away', () => {
  it.each([
    ['nobody listens', (url: URL) => (url.port = '1')],
    ['no such host', (url: URL) => (url.hostname = 'db.invalid')],
    ['no such database', (url: URL) => (url.pathname = '/absent')],
    ['no such user', (url: URL) => (url.username = 'absent')],
    ['no such socket', (url: URL) => (url.search = '?host=/nonexistent')],
  ])('when it cannot be reached: %s', async (_name, change) => {
    const url = new URL(database.databaseUrl);
    change(url);
    const pool = poolOf(url.href);
    expect(isDatabaseAway(await failure(pool.query('select 1')))).toBe(true);
    await pool.end();
  });

  it('when it ends the connection in the middle of a query', async () => {
    const pool = poolOf(database.databaseUrl);
    const client = await pool.connect();
    client.on('error', () => undefined);
    const { rows } = await client.query<{ pid: number }>('select pg_backend_pid() as pid');
    const broken = failure(client.query('select pg_sleep(20)'));
    await database.pool.query('select pg_terminate_backend($1)', [rows[0]?.pid]);
    expect(isDatabaseAway(await broken)).toBe(true);
    // The connection itself is unusable from now on, which the driver words differently.
    expect(isDatabaseAway(await failure(client.query('select 1')))).toBe(true);
    client.release(true);
    await pool.end();
    expect(isDatabaseAway(await failure(pool.query('select 1')))).toBe(true);
  });

  it('when it is too slow: a statement, a lock, a connection', async () => {
    const pool = poolOf(database.databaseUrl, 100);
    expect(isDatabaseAway(await failure(pool.query('select pg_sleep(5)')))).toBe(true);
    await pool.end();
    const holder = await database.pool.connect();
    await holder.query('begin; lock table sources');
    const waiter = await database.pool.connect();
    await waiter.query('set lock_timeout = 50');
    const locked = await failure(waiter.query('select count(*) from sources'));
    expect(isDatabaseAway(locked)).toBe(true);
    await holder.query('rollback');
    holder.release();
    waiter.release(true);
    const single = new pg.Pool({
      connectionString: database.databaseUrl,
      max: 1,
      connectionTimeoutMillis: 1_500,
    });
    const only = await single.connect();
    expect(isDatabaseAway(await failure(single.query('select 1')))).toBe(true);
    only.release();
    await single.end();
  });

  it('but not when a query is at fault, or something else altogether', async () => {
    const { pool } = database;
    const faults = [
      pool.query('select nothing'),
      pool.query("select 'x'::uuid"),
      pool.query('select 1/0'),
      pool.query("insert into sources (name, attended) values ('a', true), ('a', true)"),
    ];
    const failures = await Promise.all(faults.map(failure));
    expect(failures.map(isDatabaseAway)).toEqual([false, false, false, false]);
    for (const other of [new Error('boom'), new TypeError('x'), null, 'ECONNREFUSED']) {
      expect(isDatabaseAway(other)).toBe(false);
    }
  });
});
