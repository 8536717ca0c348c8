import { readFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { readConfig } from '../config/config.js';
import { ExternalIdTaken, StartError } from '../errors.js';
import { ExternalId } from '../serve/auth/client-forms.js';
import { ClientKeysForm, toClientKeys } from '../serve/auth/client-keys-form.js';
import { isKnownScope, KNOWN_SCOPES_SENTENCE } from '../serve/auth/scopes.js';
import {
  addClient,
  addClientWithKeys,
  findClient,
  rotateSecret,
  setDisabled,
  setKeys,
} from '../store/clients.js';
import type { ClientKeys } from '../store/clients.js';
import { requireMigrated } from '../store/migrate.js';
import { openPool } from '../store/pool.js';
import type { Pool } from '../store/pool.js';

const USAGE =
  'Use: npm run client -- add NAME --scopes "sets.write" [--source NAME] [--unattended] [--jwks-url URL | --jwks FILE] [--external-id ID], or keys CLIENT_ID --jwks-url URL | --jwks FILE, or rotate CLIENT_ID, or disable CLIENT_ID.';

interface Arguments {
  readonly verb: string;
  /** The name of a new client, or the id of an old one. */
  readonly subject: string;
  readonly scopes: readonly string[];
  readonly source: string;
  readonly attended: boolean;
  /** Undefined: it proves itself by a secret. */
  readonly keys: ClientKeys | undefined;
  readonly externalId: string | undefined;
}

const OPTIONS = {
  scopes: { type: 'string' },
  source: { type: 'string' },
  unattended: { type: 'boolean' },
  jwks: { type: 'string' },
  'jwks-url': { type: 'string' },
  'external-id': { type: 'string' },
} as const;

function parse(args: readonly string[]) {
  try {
    return parseArgs({ args: [...args], allowPositionals: true, options: OPTIONS });
  } catch (error) {
    throw new StartError(`${error instanceof Error ? error.message : String(error)} ${USAGE}`);
  }
}

function readKeySet(file: string): unknown {
  try {
    return JSON.parse(readFileSync(file, 'utf8'));
  } catch {
    throw new StartError(`--jwks names ${file}, which cannot be read or is not JSON.`);
  }
}

function readKeys(file: string | undefined, url: string | undefined): ClientKeys | undefined {
  if (file === undefined && url === undefined) return undefined;
  const said = {
    ...(file === undefined ? {} : { jwks: readKeySet(file) }),
    ...(url === undefined ? {} : { jwksUrl: url }),
  };
  const parsed = ClientKeysForm.safeParse(said);
  if (parsed.success) return toClientKeys(parsed.data);
  const [fault] = parsed.error.issues;
  const place = fault?.path.join('.') ?? '';
  throw new StartError(`The keys cannot be used: ${place} ${fault?.message ?? ''}`);
}

function readArguments(args: readonly string[]): Arguments {
  const { values, positionals } = parse(args);
  const [verb, subject, ...rest] = positionals;
  if (verb === undefined || subject === undefined || subject.trim() === '' || rest.length > 0) {
    throw new StartError(USAGE);
  }
  return {
    verb,
    subject,
    scopes: (values.scopes ?? '').split(/\s+/).filter((scope) => scope !== ''),
    source: values.source ?? subject,
    attended: values.unattended !== true,
    keys: readKeys(values.jwks, values['jwks-url']),
    externalId: values['external-id'],
  };
}

function checkNew({ scopes, externalId }: Arguments): void {
  const unknown = scopes.filter((scope) => !isKnownScope(scope));
  if (unknown.length > 0) {
    throw new StartError(`There is no scope ${unknown.join(', ')}. ${KNOWN_SCOPES_SENTENCE}`);
  }
  if (scopes.length === 0) {
    throw new StartError(`A client needs --scopes. ${KNOWN_SCOPES_SENTENCE}`);
  }
  if (externalId !== undefined && !ExternalId.safeParse(externalId).success) {
    throw new StartError('--external-id has 1 to 255 printable ASCII characters.');
  }
}

async function add(pool: Pool, args: Arguments): Promise<object> {
  checkNew(args);
  const { subject: name, scopes, source, attended, keys, externalId } = args;
  const client = { name, scopes, source: { name: source, attended }, externalId };
  const added =
    keys === undefined
      ? await addClient(pool, client)
      : await addClientWithKeys(pool, client, keys);
  if (added !== null) return added;
  const [is, hint] = attended
    ? ['unattended', 'say --unattended']
    : ['attended', 'leave out --unattended'];
  throw new StartError(`The source ${source} is registered as ${is}: ${hint}, or name another.`);
}

async function rotate(pool: Pool, clientId: string): Promise<object> {
  const rotated = await rotateSecret(pool, clientId);
  if (rotated !== null) return rotated;
  if ((await findClient(pool, clientId)) === null) throw noSuchClient(clientId);
  throw new StartError(`The client ${clientId} proves itself by keys and has no secret.`);
}

function noSuchClient(clientId: string): StartError {
  return new StartError(`There is no client ${clientId}.`);
}

async function run(pool: Pool, args: Arguments): Promise<object> {
  const { verb, subject, keys } = args;
  switch (verb) {
    case 'add':
      return add(pool, args);
    case 'keys':
      if (keys === undefined) throw new StartError(USAGE);
      if (!(await setKeys(pool, subject, keys))) throw noSuchClient(subject);
      return { clientId: subject };
    case 'rotate':
      return rotate(pool, subject);
    case 'disable':
      if (!(await setDisabled(pool, subject, Date.now()))) throw noSuchClient(subject);
      return { clientId: subject, disabled: true };
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
  } catch (error) {
    if (!(error instanceof ExternalIdTaken)) throw error;
    throw new StartError('Another client has this external id.');
  } finally {
    await pool.end();
  }
}

main().catch((error: unknown) => {
  if (!(error instanceof StartError)) throw error;
  process.stderr.write(`${error.message}\n`);
  process.exitCode = 1;
});
