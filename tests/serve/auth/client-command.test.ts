import { execFile } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { askToken, basic, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';
import type { Credentials } from '../../../src/store/clients.js';
import { askWithAssertion, makeKeyPair, signAssertion } from './keyed-client.js';

let database: TestDatabase;
let app: RunningApp;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database);
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

interface Outcome {
  code: number;
  stdout: string;
  stderr: string;
}

/** Runs the built command as a person at a console does. */
async function run(args: readonly string[], env: Record<string, string> = {}): Promise<Outcome> {
  const { databaseUrl, schema } = database;
  return new Promise((resolve) => {
    execFile(
      process.execPath,
      ['dist/commands/client.js', ...args],
      { env: { DATABASE_URL: databaseUrl, DATABASE_SCHEMA: schema, ...env } },
      (error, stdout, stderr) => {
        const code = error === null ? 0 : Number(error.code);
        resolve({ code, stdout, stderr });
      },
    );
  });
}

function credentials({ stdout }: Outcome): Credentials {
  expect(stdout.trim().split('\n')).toHaveLength(1);
  return JSON.parse(stdout) as Credentials;
}

describe('npm run client', () => {
  it('adds a client whose credentials get a token, rotates and disables it', async () => {
    const added = await run(['add', 'engine', '--scopes', 'sets.write  sets.check']);
    expect(added).toMatchObject({ code: 0, stderr: '' });
    const first = credentials(added);
    const response = await askToken(app.url, basic(first));
    expect(await response.json()).toHaveProperty('scope', 'sets.write sets.check');
    const second = credentials(await run(['rotate', first.clientId]));
    expect((await askToken(app.url, basic(second))).status).toBe(200);
    expect((await run(['disable', first.clientId])).code).toBe(0);
    const { rows } = await database.pool.query(
      'select disabled_at is not null as disabled, name from clients where client_id = $1',
      [first.clientId],
    );
    expect(rows).toEqual([{ disabled: true, name: 'engine' }]);
  });

  it('gives the client a source: its own, or one that is named', async () => {
    const scopes = ['--scopes', 'sets.write'];
    await run(['add', 'a', ...scopes, '--source', 'monitors', '--unattended']);
    await run(['add', 'b', ...scopes, '--source', 'monitors', '--unattended']);
    await run(['add', 'c', ...scopes]);
    const { rows } = await database.pool.query(
      `select c.name, s.name as source, s.attended from clients c join sources s using (source_key)
        where c.name in ('a', 'b', 'c') order by c.name`,
    );
    expect(rows).toEqual([
      { name: 'a', source: 'monitors', attended: false },
      { name: 'b', source: 'monitors', attended: false },
      { name: 'c', source: 'c', attended: true },
    ]);
    const other = await run(['add', 'd', ...scopes, '--source', 'monitors']);
    expect(other.code).toBe(1);
    expect(other.stderr).toContain('monitors is registered as unattended');
  });

  it('registers keys from a file or by an address, and changes them', async () => {
    const key = await makeKeyPair('ES384');
    const folder = await mkdtemp(join(tmpdir(), 'client-'));
    const file = join(folder, 'keys.json');
    await writeFile(file, JSON.stringify({ keys: [key.jwk] }));
    const scopes = ['--scopes', 'system/*.rs', '--external-id', 'record-service'];
    const added = await run(['add', 'record', ...scopes, '--jwks', file]);
    const { clientId, ...more } = credentials(added);
    expect(more).toEqual({});
    const assertion = await signAssertion(key, clientId, app.url);
    expect((await askWithAssertion(app.url, assertion)).status).toBe(200);
    const taken = await run(['add', 'record-2', ...scopes]);
    expect([taken.code, taken.stderr.trim()]).toEqual([1, 'Another client has this external id.']);
    const rotated = await run(['rotate', clientId]);
    expect([rotated.code, rotated.stderr]).toEqual([1, expect.stringContaining('by keys')]);

    const url = 'https://keys.larkfield.example/set.json';
    const changed = await run(['keys', clientId, '--jwks-url', url]);
    expect([changed.code, JSON.parse(changed.stdout)]).toEqual([0, { clientId }]);
    const { rows } = await database.pool.query(
      'select jwks, jwks_url, external_id from clients where client_id = $1',
      [clientId],
    );
    expect(rows).toEqual([{ jwks: null, jwks_url: url, external_id: 'record-service' }]);

    await writeFile(file, '{"keys":[{"kty":"EC"}]}');
    const bad = await run(['add', 'x', '--scopes', 'admin', '--jwks', file]);
    expect([bad.code, bad.stderr]).toEqual([1, expect.stringContaining('jwks.keys.0')]);
    await rm(folder, { recursive: true });
  });

  it.each([
    [['keys', 'absent'], 'Use: npm run client'],
    [['keys', 'absent', '--jwks-url', 'https://keys.example/set'], 'There is no client absent.'],
    [['keys', 'absent', '--jwks-url', 'http://keys.example/set'], 'an https address'],
    [['keys', 'absent', '--jwks', 'no/such/file'], 'cannot be read'],
    [['add', 'x', '--scopes', 'admin', '--external-id', 'ä'], 'printable ASCII'],
    [['add', 'x', '--scopes', 'sets.own'], 'There is no scope sets.own. Known scopes: sets.write'],
    [['add', 'x'], 'A client needs --scopes'],
    [['add'], 'Use: npm run client'],
    [['add', 'x', 'y', '--scopes', 'admin'], 'Use: npm run client'],
    [['remove', 'x'], 'Use: npm run client'],
    [['add', 'x', '--scope', 'admin'], 'Use: npm run client'],
    [['rotate', 'absent'], 'There is no client absent.'],
    [['disable', 'absent'], 'There is no client absent.'],
    [[], 'Use: npm run client'],
  ])('refuses %j in one plain sentence', async (args, words) => {
    const { code, stdout, stderr } = await run(args);
    expect(code).toBe(1);
    expect(stdout).toBe('');
    expect(stderr).toContain(words);
    expect(stderr.trim().split('\n')).toHaveLength(1);
  });

  it('says that it needs a database, and a migrated one', async () => {
    const args = ['add', 'x', '--scopes', 'admin'];
    expect((await run(args, { DATABASE_URL: '' })).stderr).toContain('DATABASE_URL is not set');
    const empty = await run(args, { DATABASE_SCHEMA: 'elsewhere' });
    expect(empty.code).toBe(1);
    expect(empty.stderr).toContain('npm run migrate');
  });
});
