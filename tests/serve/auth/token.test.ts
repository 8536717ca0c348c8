import { randomUUID } from 'node:crypto';
import {
  createRemoteJWKSet,
  decodeJwt,
  exportJWK,
  generateKeyPair,
  importJWK,
  jwtVerify,
  SignJWT,
} from 'jose';
import type { JWK } from 'jose';
import { rotateSecret, setDisabled, setEnd } from '../../../src/store/clients.js';
import type { Credentials } from '../../../src/store/clients.js';
import { ensureSigningKey, listSigningKeys } from '../../../src/store/signing-keys.js';
import { letPass } from '../../setup/clock.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import {
  askToken,
  basic,
  registerClient,
  reply,
  signIn,
  startApp,
  until,
} from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';

const SET = '0190a2c4-0000-4000-8000-000000000001';
/** The gateway may remember a client's state for two seconds. */
const STATE_AGE_MS = 2_100;

let database: TestDatabase;
let app: RunningApp;
let client: Credentials;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database, {
    pipeline: { findSet: (sender) => Promise.resolve(reply(200, sender)) },
  });
  client = await registerClient(database, ['sets.write', 'system/*.rs']);
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

async function readSet(headers: Record<string, string>): Promise<Response> {
  return fetch(`${app.url}/sets/${SET}`, { headers });
}

afterEach(() => {
  jest.useRealTimers();
});

/** A token as the gateway would sign it, but for what a test changes. */
async function forge(
  change: Record<string, unknown>,
  header: Record<string, unknown> = {},
  foreign = false,
): Promise<string> {
  const [stored] = await listSigningKeys(database.pool);
  if (stored === undefined) throw new Error('no key');
  const key = foreign
    ? (await generateKeyPair('ES256')).privateKey
    : await importJWK(stored.privateJwk as JWK, 'ES256');
  const nowSeconds = Math.floor(Date.now() / 1000);
  const claims = {
    ...{ iss: app.url, aud: app.url, sub: client.clientId, scope: 'sets.write' },
    ...{ iat: nowSeconds, exp: nowSeconds + 60, jti: randomUUID() },
    ...change,
  };
  return new SignJWT(claims)
    .setProtectedHeader({ alg: 'ES256', kid: stored.kid, typ: 'at+jwt', ...header })
    .sign(key);
}

describe('POST /auth/token', () => {
  it('gives a token of at most five minutes for all scopes of the client', async () => {
    const response = await askToken(app.url, basic(client));
    expect(response.status).toBe(200);
    expect(response.headers.get('cache-control')).toBe('no-store');
    const body = (await response.json()) as { access_token: string };
    expect(body).toMatchObject({ token_type: 'Bearer', expires_in: 300 });
    expect(body).toHaveProperty('scope', 'sets.write system/*.rs');
    const { iat = 0, exp = 0, ...claims } = decodeJwt(body.access_token);
    expect(exp - iat).toBeLessThanOrEqual(300);
    expect(claims).toMatchObject({ iss: app.url, aud: app.url, sub: client.clientId });
  });

  it('signs so that a general library verifies it with the published keys', async () => {
    const { authorization } = await signIn(app.url, client);
    const keys = createRemoteJWKSet(new URL(`${app.url}/auth/jwks`));
    const verified = await jwtVerify(authorization.slice('Bearer '.length), keys, {
      issuer: app.url,
      audience: app.url,
    });
    expect(verified.payload.sub).toBe(client.clientId);
    expect(verified.protectedHeader.alg).toBe('ES256');
  });

  it('publishes no private part of a key', async () => {
    const response = await fetch(`${app.url}/auth/jwks`);
    const { keys } = (await response.json()) as { keys: Record<string, unknown>[] };
    expect(keys.length).toBeGreaterThan(0);
    for (const key of keys) expect(key).not.toHaveProperty('d');
  });

  it('narrows scopes on request, and never widens them', async () => {
    const grant = { grant_type: 'client_credentials' };
    const narrow = await askToken(app.url, basic(client), {
      ...grant,
      scope: 'system/Observation.r',
    });
    expect(await narrow.json()).toHaveProperty('scope', 'system/Observation.r');
    for (const scope of ['admin', 'sets.write admin', 'system/*.cruds', 'system/AuditEvent.r']) {
      const refused = await askToken(app.url, basic(client), { ...grant, scope });
      expect(refused.status).toBe(400);
      expect(await refused.json()).toHaveProperty('error', 'invalid_scope');
    }
  });

  // RFC 6749 §5.2.
  it.each([
    ['no grant', {}, 'invalid_request'],
    ['another grant', { grant_type: 'password' }, 'unsupported_grant_type'],
  ])('refuses %s', async (_name, form, error) => {
    const response = await askToken(app.url, basic(client), form);
    expect(response.status).toBe(400);
    expect(await response.json()).toHaveProperty('error', error);
  });

  it('refuses a parameter that stands twice', async () => {
    const response = await fetch(`${app.url}/auth/token`, {
      method: 'POST',
      headers: {
        authorization: basic(client),
        'content-type': 'application/x-www-form-urlencoded',
      },
      body: 'grant_type=client_credentials&scope=sets.write&scope=admin',
    });
    expect(await response.json()).toHaveProperty('error', 'invalid_request');
  });

  it('takes ids and secrets that are form-encoded before base64 (RFC 6749 §2.3.1)', async () => {
    const encoded = basic({
      clientId: client.clientId.replaceAll('-', '%2D'),
      clientSecret: client.clientSecret,
    });
    expect((await askToken(app.url, encoded)).status).toBe(200);
  });

  it.each([
    ['a wrong secret', () => basic({ ...client, clientSecret: 'x' })],
    ['an unknown client', () => basic({ ...client, clientId: randomUUID() })],
    ['no credentials', () => ''],
    ['text that is no base64', () => 'Basic ä'],
    ['an id that is none of ours', () => basic({ clientId: '%00', clientSecret: '%00' })],
    ['broken percent-encoding', () => basic({ clientId: '%zz', clientSecret: 'x' })],
    ['a bearer token', () => 'Bearer abc'],
  ])('answers 401 invalid_client to %s', async (_name, authorization) => {
    const response = await fetch(`${app.url}/auth/token`, {
      method: 'POST',
      headers: { authorization: encodeURI(authorization()) },
      body: new URLSearchParams({ grant_type: 'client_credentials' }),
    });
    expect(response.status).toBe(401);
    expect(response.headers.get('www-authenticate')).toMatch(/^Basic /);
    expect(await response.json()).toHaveProperty('error', 'invalid_client');
  });

  it('slows down who fails again and again, and nobody else', async () => {
    const guessed = await registerClient(database, ['sets.check']);
    const wrong = basic({ ...guessed, clientSecret: 'x' });
    for (let i = 0; i < 10; i += 1) expect((await askToken(app.url, wrong)).status).toBe(401);
    const slowed = await askToken(app.url, wrong);
    expect(slowed.status).toBe(429);
    expect(Number(slowed.headers.get('retry-after'))).toBeGreaterThan(0);
    expect((await askToken(app.url, basic(client))).status).toBe(200);
  });

  it('does not count successes of many at once as failures', async () => {
    const many = Array.from({ length: 30 }, () => askToken(app.url, basic(client)));
    const statuses = (await Promise.all(many)).map((response) => response.status);
    expect(new Set(statuses)).toEqual(new Set([200]));
  });
});

describe('a bearer token', () => {
  it('tells the handler the client and its source', async () => {
    const response = await readSet(await signIn(app.url, client));
    expect(response.status).toBe(200);
    expect(response.headers.get('cache-control')).toBe('no-store');
    expect(await response.json()).toMatchObject({
      clientId: client.clientId,
      source: 'larkfield-engine',
      attended: true,
      secondIdentifierRequired: false,
      person: null,
    });
  });

  it('is asked for', async () => {
    const response = await readSet({});
    expect(response.status).toBe(401);
    expect(response.headers.get('www-authenticate')).toBe('Bearer');
    expect(response.headers.get('content-type')).toBe('application/problem+json');
  });

  it.each([
    ['signed by another key', () => forge({}, {}, true)],
    ['under an unknown key id', () => forge({}, { kid: 'other' })],
    ['of another issuer', () => forge({ iss: 'http://elsewhere.example' })],
    ['for another audience', () => forge({ aud: 'http://elsewhere.example' })],
    ['that has ended', () => forge({ exp: Math.floor(Date.now() / 1000) - 1 })],
    ['without an end', () => forge({ exp: undefined })],
    ['of a client that is not registered', () => forge({ sub: randomUUID() })],
    ['that is none', () => Promise.resolve('abc')],
    [
      'without a signature',
      async () => {
        const [, payload] = (await forge({})).split('.');
        const header = Buffer.from('{"alg":"none"}').toString('base64url');
        return `${header}.${payload ?? ''}.`;
      },
    ],
  ])('is refused: one %s', async (_name, token) => {
    const response = await readSet({ authorization: `Bearer ${await token()}` });
    expect(response.status).toBe(401);
    expect(response.headers.get('www-authenticate')).toBe('Bearer error="invalid_token"');
  });

  it('ends while it is remembered as verified', async () => {
    const token = await forge({ exp: Math.floor(Date.now() / 1000) + 2 });
    const headers = { authorization: `Bearer ${token}` };
    expect((await readSet(headers)).status).toBe(200);
    letPass(STATE_AGE_MS);
    expect((await readSet(headers)).status).toBe(401);
  });

  it('is too small: 403 with the scope, and a line in the audit trail', async () => {
    const small = await registerClient(database, ['sets.check']);
    const response = await readSet(await signIn(app.url, small));
    expect(response.status).toBe(403);
    expect(response.headers.get('www-authenticate')).toBe(
      'Bearer error="insufficient_scope", scope="sets.write bedside"',
    );
    expect(await response.json()).toHaveProperty(
      'detail',
      'This needs the scope sets.write or bedside.',
    );
    let rows: unknown[] = [];
    await until(async () => {
      ({ rows } = await database.pool.query(
        `select action, outcome, entity from audit join clients using (client_key)
          where client_id = $1 order by audit_id`,
        [small.clientId],
      ));
      return rows.length > 1;
    });
    expect(rows).toEqual([
      { action: 'sign-in', outcome: 200, entity: 'auth/token' },
      { action: 'refused', outcome: 403, entity: 'GET /sets/:setId' },
    ]);
  });

  it('loses a scope that the client loses', async () => {
    const shrinking = await registerClient(database, ['sets.write', 'sets.check']);
    const headers = await signIn(app.url, shrinking);
    expect((await readSet(headers)).status).toBe(200);
    await database.pool.query(`update clients set scopes = '{sets.check}' where client_id = $1`, [
      shrinking.clientId,
    ]);
    letPass(STATE_AGE_MS);
    expect((await readSet(headers)).status).toBe(403);
  });

  it('dies with its client: disabled, or past its end', async () => {
    const disabled = await registerClient(database, ['sets.write']);
    const ended = await registerClient(database, ['sets.write']);
    const tokens = [await signIn(app.url, disabled), await signIn(app.url, ended)];
    for (const token of tokens) expect((await readSet(token)).status).toBe(200);
    await setDisabled(database.pool, disabled.clientId, Date.now());
    await setEnd(database.pool, ended.clientId, Date.now() - 1);
    letPass(STATE_AGE_MS);
    for (const token of tokens) expect((await readSet(token)).status).toBe(401);
    for (const gone of [disabled, ended]) {
      expect((await askToken(app.url, basic(gone))).status).toBe(401);
    }
  });

  it('is not given for a secret that was rotated away', async () => {
    const rotated = await registerClient(database, ['sets.write']);
    const fresh = await rotateSecret(database.pool, rotated.clientId);
    expect((await askToken(app.url, basic(rotated))).status).toBe(401);
    expect((await askToken(app.url, basic(fresh ?? rotated))).status).toBe(200);
  });
});

describe('several processes', () => {
  it('make one key, though each of them brings its own', async () => {
    const fresh = await openTestDatabase();
    const starters = Array.from({ length: 6 }, (_, i) =>
      ensureSigningKey(fresh.pool, () => Promise.resolve({ kid: `key-${i}`, privateJwk: {} })),
    );
    await Promise.all(starters);
    expect(await listSigningKeys(fresh.pool)).toHaveLength(1);
    await fresh.close();
  });

  it("take each other's tokens", async () => {
    const fresh = await openTestDatabase();
    const sender = await registerClient(fresh, ['sets.write']);
    const pipeline = { findSet: () => Promise.resolve(reply(200, {})) };
    const publicUrl = 'http://gateway.example';
    const apps = await Promise.all([1, 2, 3].map(() => startApp(fresh, { pipeline, publicUrl })));
    const tokens = await Promise.all(apps.map(({ url }) => signIn(url, sender)));
    for (const headers of tokens) {
      for (const { url } of apps) {
        expect((await fetch(`${url}/sets/${SET}`, { headers })).status).toBe(200);
      }
    }
    expect(await listSigningKeys(fresh.pool)).toHaveLength(1);
    await Promise.all(apps.map(({ stop }) => stop()));
    await fresh.close();
  });

  it('learn a key that another process brought in', async () => {
    await signIn(app.url, client);
    const { privateKey } = await generateKeyPair('ES256', { extractable: true });
    await database.pool.query(
      `insert into signing_keys (kid, private_jwk, created_at) values ('newer', $1, now())`,
      [await exportJWK(privateKey)],
    );
    // Reloads are at least five seconds apart.
    letPass(5_100);
    const token = await forge({}, { kid: 'newer' });
    expect((await readSet({ authorization: `Bearer ${token}` })).status).toBe(200);
  });
});
