/** Registration of a client's public keys: RFC 7517, RFC 7518 §6, SMART App Launch 2.2 "Registering a client". */
import { exportJWK, generateKeyPair } from 'jose';
import type { JWK } from 'jose';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { askToken, basic, registerClient, signIn, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';
import { askWithAssertion, makeKeyPair, signAssertion } from './keyed-client.js';
import type { KeyPair } from './keyed-client.js';

let database: TestDatabase;
let app: RunningApp;
let admin: Record<string, string>;
let key: KeyPair;
let other: KeyPair;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database);
  admin = await signIn(app.url, await registerClient(database, ['admin']));
  [key, other] = await Promise.all([makeKeyPair('ES384'), makeKeyPair('RS384')]);
});
afterAll(async () => {
  await app.stop();
  await database.close();
});

interface Told {
  readonly status: number;
  readonly body: Record<string, unknown>;
}

async function send(method: string, path: string, body?: unknown): Promise<Told> {
  const answer = await fetch(`${app.url}/admin/clients${path}`, {
    method,
    headers: { ...admin, 'content-type': 'application/json' },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
  const text = await answer.text();
  return {
    status: answer.status,
    body: text === '' ? {} : (JSON.parse(text) as Record<string, unknown>),
  };
}

const CLIENT = {
  ...{ name: 'Record', scopes: ['system/*.rs'] },
  source: { name: 'larkfield-record', attended: true },
};

async function add(keys: unknown): Promise<string> {
  const { status, body } = await send('POST', '', { ...CLIENT, keys });
  expect([status, Object.keys(body)]).toEqual([201, ['clientId']]);
  return String(body.clientId);
}

async function proves(clientId: string, by: KeyPair): Promise<boolean> {
  const assertion = await signAssertion(by, clientId, app.url);
  return (await askWithAssertion(app.url, assertion)).status === 200;
}

async function listed(clientId: string): Promise<Record<string, unknown> | undefined> {
  const { body } = await send('GET', '');
  return (body.clients as { clientId: string }[]).find((one) => one.clientId === clientId);
}

function without(jwk: JWK, member: string): JWK {
  return Object.fromEntries(Object.entries(jwk).filter(([name]) => name !== member));
}

describe('keys of a client', () => {
  it('are registered with it, in place of a secret', async () => {
    const id = await add({ jwks: { keys: [{ ...key.jwk, note: 'x' }, other.jwk] } });
    expect(await proves(id, key)).toBe(true);
    expect(await proves(id, other)).toBe(true);
    expect(await listed(id)).toMatchObject({ keys: { kids: [key.jwk.kid, other.jwk.kid] } });
    const { rows } = await database.pool.query<{ jwks: object; secret_sha256: unknown }>(
      'select jwks, secret_sha256 from clients where client_id = $1',
      [id],
    );
    expect(rows).toEqual([{ jwks: { keys: [key.jwk, other.jwk] }, secret_sha256: null }]);
  });

  it('change at once, in place or by address', async () => {
    const id = await add({ jwks: { keys: [key.jwk] } });
    const put = await send('PUT', `/${id}/keys`, { jwks: { keys: [other.jwk] } });
    expect(put.status).toBe(204);
    expect(await proves(id, key)).toBe(false);
    expect(await proves(id, other)).toBe(true);
    const jwksUrl = 'https://keys.larkfield.example/set.json?site=1';
    expect((await send('PUT', `/${id}/keys`, { jwksUrl })).status).toBe(204);
    expect(await listed(id)).toMatchObject({ keys: { jwksUrl } });
    const { rows } = await database.pool.query(
      'select action, outcome from audit where entity = $1 order by audit_id',
      [`clients/${id}`],
    );
    expect(rows.slice(0, 2)).toEqual([
      { action: 'client-add', outcome: 201 },
      { action: 'client-keys', outcome: 204 },
    ]);
  });

  it('take the place of a secret, which ends; and have none to rotate', async () => {
    const client = await registerClient(database, ['system/*.rs']);
    const keys = { jwks: { keys: [key.jwk] } };
    expect((await send('PUT', `/${client.clientId}/keys`, keys)).status).toBe(204);
    expect((await askToken(app.url, basic(client))).status).toBe(401);
    expect(await proves(client.clientId, key)).toBe(true);
    expect((await send('POST', `/${client.clientId}/rotate`)).status).toBe(409);
    expect(await proves(client.clientId, key)).toBe(true);
  });

  it('are of a client that there is', async () => {
    const keys = { jwks: { keys: [key.jwk] } };
    for (const id of ['absent', '0190a2c4-0000-4000-8000-000000000005']) {
      expect((await send('PUT', `/${id}/keys`, keys)).status).toBe(404);
      expect((await send('PUT', `/${id}/external-id`, { externalId: null })).status).toBe(404);
    }
  });
});

describe('keys that cannot be used', () => {
  async function faults(keys: unknown): Promise<[number, string[], string]> {
    const { status, body } = await send('POST', '', { ...CLIENT, keys });
    const errors = (body.errors ?? []) as { pointer: string; message: string }[];
    return [status, errors.map(({ pointer }) => pointer), errors.map((one) => one.message).join()];
  }

  it('are private ones: whoever sends one is told that it is spent', async () => {
    const { privateKey } = await generateKeyPair('ES384', { extractable: true });
    const jwk = { ...(await exportJWK(privateKey)), kid: 'mine' };
    const [status, pointers, message] = await faults({ jwks: { keys: [jwk] } });
    expect([status, pointers]).toEqual([400, ['/keys/jwks/keys/0']]);
    expect(message).toContain('private key');
    expect(message).not.toContain(jwk.d);
  });

  it.each<[string, (jwk: JWK) => unknown, string]>([
    ['without kid', (jwk) => without(jwk, 'kid'), '/keys/jwks/keys/0/kid'],
    ['of another type', (jwk) => ({ ...jwk, kty: 'OKP' }), '/keys/jwks/keys/0/kty'],
    ['for encryption', (jwk) => ({ ...jwk, use: 'enc' }), '/keys/jwks/keys/0/use'],
    ['of another algorithm', (jwk) => ({ ...jwk, alg: 'ES256' }), '/keys/jwks/keys/0/alg'],
    ['off the curve', (jwk) => ({ ...jwk, x: jwk.y }), '/keys/jwks/keys/0'],
    ['without y', (jwk) => without(jwk, 'y'), '/keys/jwks/keys/0'],
  ])('are those %s', async (_name, change, pointer) => {
    const plain = without(key.jwk, 'alg');
    expect((await faults({ jwks: { keys: [change(plain)] } })).slice(0, 2)).toEqual([
      400,
      [pointer],
    ]);
  });

  it('are short ones, of other curves, twice the same, none, or many', async () => {
    const [small, p256] = await Promise.all([
      generateKeyPair('RS256', { modulusLength: 2048, extractable: true }),
      generateKeyPair('ES256', { extractable: true }),
    ]);
    const good = { ...(await exportJWK(small.publicKey)), kid: 'a' };
    const bytes = Buffer.from(good.n ?? '', 'base64url').subarray(0, 128);
    const short = { ...good, n: bytes.toString('base64url') };
    const curve = { ...(await exportJWK(p256.publicKey)), kid: 'a' };
    for (const [keys, pointer] of [
      [[short], '/keys/jwks/keys/0'],
      [[curve], '/keys/jwks/keys/0'],
      [[good, good], '/keys/jwks/keys'],
      [[], '/keys/jwks/keys'],
      [Array.from({ length: 21 }, (_, i) => ({ ...good, kid: String(i) })), '/keys/jwks/keys'],
    ]) {
      expect((await faults({ jwks: { keys } })).slice(0, 2)).toEqual([400, [pointer]]);
    }
    expect((await faults({ jwks: { keys: [good] } }))[0]).toBe(201);
  });

  it.each([
    'http://keys.example/set',
    'https://anna:b@keys.example/set',
    'https://keys.example/set#a',
    'keys.example',
    `https://keys.example/${'x'.repeat(2000)}`,
  ])('are at no address such as %s', async (jwksUrl) => {
    expect((await faults({ jwksUrl })).slice(0, 2)).toEqual([400, ['/keys/jwksUrl']]);
  });

  it('are in one place, not in two or none', async () => {
    const both = { jwksUrl: 'https://keys.example/set', jwks: { keys: [key.jwk] } };
    for (const keys of [{}, both]) expect((await faults(keys))[0]).toBe(400);
  });
});

describe('a name at another issuer', () => {
  it('is registered with the client, and is one client’s', async () => {
    const externalId = 'record service/1';
    const { body } = await send('POST', '', { ...CLIENT, externalId });
    expect(await listed(String(body.clientId))).toMatchObject({ externalId });
    const again = await send('POST', '', { ...CLIENT, externalId });
    expect([again.status, again.body.detail]).toEqual([
      409,
      'Another client has this external id.',
    ]);
    for (const wrong of ['', 'ä', 'a\nb', 'x'.repeat(256), 7]) {
      expect((await send('POST', '', { ...CLIENT, externalId: wrong })).status).toBe(400);
    }
  });
});
