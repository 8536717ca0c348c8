import { parseArgs } from 'node:util';
import { readConfig } from '../config.js';
import { StartError } from '../errors.js';
import { isKnownScope, KNOWN_SCOPES_SENTENCE } from '../serve/auth/scopes.js';
import { addClient, rotateSecret, setDisabled } from '../store/clients.js';
import { requireMigrated } from '../store/migrate.js';
import { openPool } from '../store/pool.js';
import type { Pool } from '../store/pool.js';

const USAGE =
  'Use: npm run client -- add NAME --scopes "sets.write" [--source NAME] [--unattended], or rotate CLIENT_ID, or disable CLIENT_ID.';

interface Arguments {
  readonly verb: string;
  /** The name of a new client, or the id of an old one. */
  readonly subject: string;
  readonly scopes: readonly string[];
  readonly source: string;
  readonly attended: boolean;
}

function parse(args: readonly string[]): ReturnType<typeof parseArgs> {
  try {
    return parseArgs({
      args: [...args],
      allowPositionals: true,
      options: {
        scopes: { type: 'string' },
        source: { type: 'string' },
        unattended: { type: 'boolean' },
      },
    });
  } catch (error) {
    throw new StartError(`${error instanceof Error ? error.message : String(error)} ${USAGE}`);
  }
}

function readArguments(args: readonly string[]): Arguments {
  const { values, positionals } = parse(args);
  const [verb, subject, ...rest] = positionals;
  if (verb === undefined || subject === undefined || subject.trim() === '' || rest.length > 0) {
    throw new StartError(USAGE);
  }
  const { scopes, source, unattended } = values;
  return {
    verb,
    subject,
    scopes: String(scopes ?? '')
      .split(/\s+/)
      .filter((scope) => scope !== ''),
    source: typeof source === 'string' ? source : subject,
    attended: unattended !== true,
  };
}

async function add(pool: Pool, { subject, scopes, source, attended }: Arguments): Promise<object> {
  const unknown = scopes.filter((scope) => !isKnownScope(scope));
  if (unknown.length > 0) {
    throw new StartError(`There is no scope ${unknown.join(', ')}. ${KNOWN_SCOPES_SENTENCE}`);
  }
  if (scopes.length === 0) {
    throw new StartError(`A client needs --scopes. ${KNOWN_SCOPES_SENTENCE}`);
  }
  const added = await addClient(pool, {
    name: subject,
    scopes,
    source: { name: source, attended },
  });
  if (added === null) {
    const [is, hint] = attended
      ? ['unattended', 'say --unattended']
      : ['attended', 'leave out --unattended'];
    throw new StartError(`The source ${source} is registered as ${is}: ${hint}, or name another.`);
  }
  return added;
}

async function run(pool: Pool, args: Arguments): Promise<object> {
  const noSuchClient = new StartError(`There is no client ${args.subject}.`);
  switch (args.verb) {
    case 'add':
      return add(pool, args);
    case 'rotate': {
      const rotated = await rotateSecret(pool, args.subject);
      if (rotated === null) throw noSuchClient;
      return rotated;
    }
    case 'disable':
      if (!(await setDisabled(pool, args.subject, Date.now()))) throw noSuchClient;
      return { clientId: args.subject, disabled: true };
    default:
      throw new StartError(USAGE);
  }
}

async function main(): Promise<void> {
  const args = readArguments(process.argv.slice(2));
  const { databaseUrl, databaseSchema } = readConfig(process.env);
  if (databaseUrl === undefined) {
    throw new StartError('DATABASE_URL is not set: it names the database that the client is for.');
  }
  await requireMigrated(databaseUrl, databaseSchema);
  const pool = openPool({ databaseUrl, schema: databaseSchema, maxConnections: 1 });
  try {
    process.stdout.write(`${JSON.stringify(await run(pool, args))}\n`);
  } finally {
    await pool.end();
  }
}

main().catch((error: unknown) => {
  if (!(error instanceof StartError)) throw error;
  process.stderr.write(`${error.message}\n`);
  process.exitCode = 1;
});
