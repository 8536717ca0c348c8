import { createHash } from 'node:crypto';
import { readFile, readdir } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import pg from 'pg';
import { StartError } from '../errors.js';
import { withSchema } from './pool.js';

/** One migration file. Its checksum is over its text with LF line ends, as git may change them. */
interface Migration {
  readonly name: string;
  readonly sql: string;
  readonly checksum: string;
}

const MIGRATIONS_FOLDER = fileURLToPath(new URL('../../migrations/', import.meta.url));
const NAME = /^\d{4}-[a-z0-9-]+\.sql$/;
const UNDEFINED_TABLE = '42P01';

/**
 * Brings a site's schema up to date: applies the migrations that it lacks, in the order of their
 * numbers, each in a transaction of its own. Makes the schema if it is missing. Processes that start
 * together wait for each other.
 *
 * @returns the names of the migrations that were applied now.
 * @throws StartError when the schema is newer than this program, an applied migration has been
 *   changed since, or a migration fails; what was applied before it stays.
 */
export async function migrate(
  databaseUrl: string,
  schema: string,
  folder = MIGRATIONS_FOLDER,
): Promise<string[]> {
  const migrations = await readMigrations(folder);
  return withClient(databaseUrl, schema, async (client) => {
    // Held until the session ends. It waits for other starters, however long they take.
    await client.query('select pg_advisory_lock(hashtextextended($1, 0))', [`migrate ${schema}`]);
    await createSchema(client, schema);
    const pending = listPending(migrations, await listApplied(client), schema);
    for (const migration of pending) await apply(client, migration);
    return pending.map(({ name }) => name);
  });
}

/**
 * Makes sure that the schema is the one that this program was written for.
 *
 * @throws StartError when migrations are missing, changed or unknown.
 */
export async function requireMigrated(
  databaseUrl: string,
  schema: string,
  folder = MIGRATIONS_FOLDER,
): Promise<void> {
  const migrations = await readMigrations(folder);
  const applied = await withClient(databaseUrl, schema, listApplied);
  const pending = listPending(migrations, applied, schema);
  if (pending.length === 0) return;
  throw new StartError(
    `The database schema “${schema}” lacks ${pending.length} of the migrations of this version ` +
      `(first: ${pending[0]?.name ?? ''}): run npm run migrate.`,
  );
}

async function readMigrations(folder: string): Promise<Migration[]> {
  const names = (await readdir(folder)).filter((name) => NAME.test(name)).sort();
  return Promise.all(
    names.map(async (name) => {
      const sql = (await readFile(`${folder}/${name}`, 'utf8')).replaceAll('\r\n', '\n');
      return { name, sql, checksum: createHash('sha256').update(sql).digest('hex') };
    }),
  );
}

async function withClient<T>(
  databaseUrl: string,
  schema: string,
  work: (client: pg.Client) => Promise<T>,
): Promise<T> {
  const client = new pg.Client({
    connectionString: withSchema(databaseUrl, schema),
    application_name: 'vital-sign-gateway migrate',
    connectionTimeoutMillis: 10_000,
  });
  client.on('error', () => undefined); // The query at work fails too, and tells.
  try {
    await client.connect();
  } catch (error) {
    throw new StartError(`The database cannot be reached: ${reasonOf(error)}`);
  }
  try {
    return await work(client);
  } finally {
    await client.end();
  }
}

/** `create schema if not exists` wants the right to create even where the schema is there. */
async function createSchema(client: pg.Client, schema: string): Promise<void> {
  const { rowCount } = await client.query('select 1 from pg_namespace where nspname = $1', [
    schema,
  ]);
  try {
    if (rowCount === 0) await client.query(`create schema ${pg.escapeIdentifier(schema)}`);
    await client.query(
      `create table if not exists schema_migrations (
         name text primary key,
         checksum text not null,
         applied_at timestamptz not null default clock_timestamp()
       )`,
    );
  } catch (error) {
    throw new StartError(`The schema “${schema}” cannot be made ready: ${reasonOf(error)}`);
  }
}

/** Checksums by name; none where the schema, or its table of migrations, is not there yet. */
async function listApplied(client: pg.Client): Promise<Map<string, string>> {
  try {
    const { rows } = await client.query<{ name: string; checksum: string }>(
      'select name, checksum from schema_migrations order by name',
    );
    return new Map(rows.map((row) => [row.name, row.checksum]));
  } catch (error) {
    if ((error as pg.DatabaseError).code === UNDEFINED_TABLE) return new Map();
    throw error;
  }
}

function listPending(
  migrations: readonly Migration[],
  applied: ReadonlyMap<string, string>,
  schema: string,
): Migration[] {
  const known = new Set(migrations.map(({ name }) => name));
  const unknown = [...applied.keys()].filter((name) => !known.has(name));
  if (unknown.length > 0) {
    throw new StartError(
      `The database schema “${schema}” was made by another version of the gateway ` +
        `(it holds ${unknown.join(', ')}, unknown here): start that version.`,
    );
  }
  const changed = migrations.find(
    ({ name, checksum }) => applied.has(name) && applied.get(name) !== checksum,
  );
  if (changed !== undefined) {
    throw new StartError(
      `The migration ${changed.name} was changed after it had been applied to the schema ` +
        `“${schema}”: restore the file, and put the change into a new migration.`,
    );
  }
  return migrations.filter(({ name }) => !applied.has(name));
}

async function apply(client: pg.Client, { name, sql, checksum }: Migration): Promise<void> {
  try {
    await client.query('begin');
    await client.query(sql);
    await client.query('insert into schema_migrations (name, checksum) values ($1, $2)', [
      name,
      checksum,
    ]);
    await client.query('commit');
  } catch (error) {
    throw new StartError(`The migration ${name} failed and was undone: ${reasonOf(error)}`);
  }
}

/** The message, and the code where the message does not tell it: that of a failed connect may be empty. */
function reasonOf(error: unknown): string {
  const { message = '', code = '' } = error as { message?: string; code?: string };
  return message.includes(code) ? message : `${message} (${code})`.trim();
}
