import { randomBytes } from 'node:crypto';
import pg from 'pg';
import { openPool } from '../../src/store/pool.js';

/** A migrated, empty database of a test's own. */
export interface TestDatabase {
  readonly databaseUrl: string;
  readonly schema: string;
  readonly pool: pg.Pool;
  /** Closes the pool and drops the database. */
  readonly close: () => Promise<void>;
}

/** Clones the migrated template: once for a test file, in `beforeAll`, is enough for most. */
export async function openTestDatabase(): Promise<TestDatabase> {
  const { databaseUrl, drop } = await createDatabase('_template');
  const schema = 'gateway';
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const close = async (): Promise<void> => {
    await pool.end();
    await drop();
  };
  return { databaseUrl, schema, pool, close };
}

/** A database without any schema of ours, for tests of the migrations themselves. */
export async function openEmptyDatabase(): Promise<Pick<TestDatabase, 'databaseUrl' | 'close'>> {
  const { databaseUrl, drop } = await createDatabase();
  return { databaseUrl, close: drop };
}

async function createDatabase(
  templateSuffix?: string,
): Promise<{ databaseUrl: string; drop: () => Promise<void> }> {
  const { GATEWAY_TEST_SERVER: serverUrl, GATEWAY_TEST_RUN: run } = process.env;
  if (serverUrl === undefined || run === undefined) {
    throw new Error('There is no test server: the global set-up has not run.');
  }
  const name = `${run}_${randomBytes(4).toString('hex')}`;
  const template = templateSuffix === undefined ? 'template0' : `${run}${templateSuffix}`;
  await runOn(serverUrl, `create database ${name} template ${template}`);
  const url = new URL(serverUrl);
  url.pathname = `/${name}`;
  return {
    databaseUrl: url.href,
    drop: () => runOn(serverUrl, `drop database ${name} with (force)`),
  };
}

async function runOn(url: string, statement: string): Promise<void> {
  const client = new pg.Client(url);
  await client.connect();
  try {
    await client.query(statement);
  } finally {
    await client.end();
  }
}
