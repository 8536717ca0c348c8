/**
 * Access tokens of the site's own OpenID provider. OpenID Connect Discovery 1.0 §4; RFC 9068 for the claims;
 * RFC 8725 for what must be refused. The provider is a server of this machine that signs with jose.
 */
import { randomUUID } from 'node:crypto';
import { exportJWK, generateKeyPair, SignJWT } from 'jose';
import type { CryptoKey, JWK } from 'jose';
import { addClient, setDisabled } from '../../../src/store/clients.js';
import { startOutsideServer } from '../../outside/outside-server.js';
import type { OutsideServer } from '../../outside/outside-server.js';
import { letPass } from '../../setup/clock.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';

const PUBLIC_URL = 'https://gateway.example';
const seconds = (): number => Math.floor(Date.now() / 1000);

interface ProviderKey {
  readonly alg: string;
  readonly privateKey: CryptoKey;
  readonly jwk: JWK;
}

let provider: OutsideServer;
let gateway: TestGateway;
let key: ProviderKey;
let published: JWK[];
let asked = { discovery: 0, keys: 0 };
let discovery: (() => unknown) | undefined;
let away = false;

async function makeKey(alg: string, kid: string = randomUUID()): Promise<ProviderKey> {
  const { privateKey, publicKey } = await generateKeyPair(alg, { extractable: true });
  return { alg, privateKey, jwk: { ...(await exportJWK(publicKey)), kid, use: 'sig' } };
}

beforeAll(async () => {
  provider = await startOutsideServer((req, res) => {
    const isDiscovery = req.url === '/realms/ward/.well-known/openid-configuration';
    asked = {
      discovery: asked.discovery + Number(isDiscovery),
      keys: asked.keys + Number(!isDiscovery),
    };
    if (away) res.writeHead(503).end();
    else if (isDiscovery) res.end(JSON.stringify(discovery?.() ?? document()));
    else res.end(JSON.stringify({ keys: published }));
  }, 'http');
  key = await makeKey('RS256');
  published = [key.jwk];
  gateway = await openTestGateway({ PUBLIC_URL, AUTH_ISSUER: issuer() });
});
afterAll(async () => {
  await gateway.close();
  await provider.stop();
});
afterEach(() => {
  jest.useRealTimers();
  discovery = undefined;
  away = false;
});

function issuer(): string {
  return `${provider.url}/realms/ward`;
}

function document(): object {
  return { issuer: issuer(), jwks_uri: `${provider.url}/keys` };
}

/** A client that the provider calls by a name of its own. */
async function register(scopes: string, externalId: string = randomUUID()): Promise<string> {
  const source = { name: 'larkfield-record', attended: true };
  await addClient(gateway.database.pool, {
    ...{ name: externalId, scopes: scopes.split(' '), source, externalId },
  });
  return externalId;
}

/** A token as the provider would sign it, but for what a test changes. */
async function sign(
  claims: Readonly<Record<string, unknown>>,
  header: Readonly<Record<string, unknown>> = {},
  by = key,
): Promise<string> {
  return new SignJWT({
    ...{ iss: issuer(), aud: PUBLIC_URL, sub: randomUUID() },
    ...{ iat: seconds(), exp: seconds() + 600, scope: 'openid system/Observation.rs' },
    ...claims,
  })
    .setProtectedHeader({ alg: by.alg, kid: by.jwk.kid ?? '', typ: 'at+jwt', ...header })
    .sign(by.privateKey);
}

async function status(token: string, path = '/fhir/Observation'): Promise<number> {
  return (await gateway.ask(path, { token })).status;
}

describe('a token of the provider', () => {
  it('is taken for a client that is registered under the name it gives', async () => {
    const name = await register('system/*.rs');
    expect(await status(await sign({ client_id: name }))).toBe(200);
    expect(await status(await sign({ azp: name }))).toBe(200);
    expect(await status(await sign({ sub: name }))).toBe(200);
    expect(await status(await sign({ client_id: name, azp: name, sub: 'anna' }))).toBe(200);
    // Typed as many providers leave it, and made for others too.
    expect(await status(await sign({ azp: name }, { typ: 'JWT' }))).toBe(200);
    expect(await status(await sign({ azp: name }, { typ: undefined }))).toBe(200);
    expect(await status(await sign({ azp: name, aud: ['account', PUBLIC_URL] }))).toBe(200);
    expect(asked).toEqual({ discovery: 1, keys: 1 });
  });

  it('takes the place of none of our own', async () => {
    const token = await gateway.token('system/Observation.rs');
    expect(await status(token)).toBe(200);
  });

  it('is worth what both it and the registration allow', async () => {
    const name = await register('system/Observation.rs?status=final system/Patient.r sets.check');
    const token = await sign({ client_id: name, scope: 'openid system/*.cruds sets.check admin' });
    expect(await status(token)).toBe(200);
    expect(await status(token, '/fhir/Patient')).toBe(403);
    expect(await status(token, '/admin/clients')).toBe(403);
    const { body } = await gateway.ask<{ entry: { resource: unknown }[] }>('/fhir/Observation', {
      token,
    });
    expect(JSON.stringify(body.entry)).toContain('only some Observations');
    const small = await sign({ client_id: name, scope: 'system/Patient.r' });
    expect(await status(small)).toBe(403);
    const list = await sign({ client_id: name, scope: undefined, scp: ['system/Observation.s'] });
    expect(await status(list)).toBe(200);
    for (const scope of ['', undefined, 'openid profile']) {
      expect(await status(await sign({ client_id: name, scope }))).toBe(403);
    }
  });

  it.each<[string, Record<string, unknown>]>([
    ['for another audience', { aud: 'https://other.example' }],
    ['for the token endpoint', { aud: `${PUBLIC_URL}/auth/token` }],
    ['without an audience', { aud: undefined }],
    ['that has ended', { exp: seconds() - 60 }],
    ['without an end', { exp: undefined }],
    ['that is still to come', { nbf: seconds() + 300 }],
    ['of another issuer', { iss: 'https://other.example' }],
    ['that calls itself ours', { iss: PUBLIC_URL }],
    ['of a client that is not registered', { client_id: 'nobody' }],
    ['of a client that only the subject names', { client_id: 'nobody', sub: 'registered' }],
    ['that names two clients', { client_id: 'registered', azp: 'other' }],
    ['that names none', { client_id: undefined, sub: undefined }],
    ['whose client is no text', { client_id: 7 }],
    ['whose client is no name', { client_id: 'a\u0000' }],
    ['whose scopes are no text', { scope: { a: 1 } }],
  ])('is refused: one %s', async (_name, claims) => {
    await register('system/*.rs', 'registered').catch(() => undefined);
    const token = await sign({ client_id: 'registered', ...claims });
    const { status: said, headers } = await gateway.ask('/fhir/Observation', { token });
    expect(said).toBe(401);
    expect(headers.get('www-authenticate')).toContain('Bearer error="invalid_token"');
  });

  it.each([{ typ: 'logout+jwt' }, { kid: 'unknown' }, { kid: undefined }])(
    'is refused for its header: %j',
    async (header) => {
      const name = await register('system/*.rs');
      expect(await status(await sign({ client_id: name }, header))).toBe(401);
      expect(await status(await sign({ client_id: name }))).toBe(200);
    },
  );

  // RFC 8725 §3.1: the algorithms are bound by the verifier.
  it('is refused when it is signed by another, by nobody, or with what is public', async () => {
    const name = await register('system/*.rs');
    const good = await sign({ client_id: name });
    const [, payload = ''] = good.split('.');
    const encode = (value: object): string =>
      Buffer.from(JSON.stringify(value)).toString('base64url');
    const { kid = '' } = key.jwk;
    const stranger = await makeKey('RS256', kid);
    const shared = await new SignJWT({
      iss: issuer(),
      aud: PUBLIC_URL,
      client_id: name,
      exp: seconds() + 60,
    })
      .setProtectedHeader({ alg: 'HS256', kid })
      .sign(new TextEncoder().encode(JSON.stringify(key.jwk)));
    for (const token of [
      await sign({ client_id: name }, {}, stranger),
      `${encode({ alg: 'none', kid })}.${payload}.`,
      `!!!.${payload}.AAAA`,
      shared,
    ]) {
      expect([token, await status(token)]).toEqual([token, 401]);
    }
    expect(await status(good)).toBe(200);
  });

  it('dies with its client here', async () => {
    const name = await register('system/*.rs');
    const token = await sign({ client_id: name });
    expect(await status(token)).toBe(200);
    const { rows } = await gateway.database.pool.query<{ client_id: string }>(
      'select client_id from clients where external_id = $1',
      [name],
    );
    await setDisabled(gateway.database.pool, rows[0]?.client_id ?? '', Date.now());
    letPass(2_100);
    expect(await status(token)).toBe(401);
  });

  it('follows the registration at once, in the process where it is changed', async () => {
    const admin = await gateway.token('admin');
    const name = await register('system/*.rs');
    const later: string = randomUUID();
    const token = await sign({ client_id: name });
    expect(await status(token)).toBe(200);
    const { body } = await gateway.ask<{
      clients: { clientId: string; externalId: string | null }[];
    }>('/admin/clients', { token: admin });
    const id = body.clients.find(({ externalId }) => externalId === name)?.clientId ?? '';
    const put = async (externalId: string | null): Promise<number> =>
      (
        await gateway.ask(`/admin/clients/${id}/external-id`, {
          ...{ method: 'PUT', token: admin, body: { externalId } },
        })
      ).status;
    expect(await put(later)).toBe(204);
    expect(await status(token)).toBe(401);
    expect(await status(await sign({ client_id: later }))).toBe(200);
    expect(await put(await register('system/*.rs'))).toBe(409);
    expect(await put(null)).toBe(204);
    expect(await status(await sign({ client_id: later }))).toBe(401);
  });
});

describe('the keys of the provider', () => {
  it('change: a token of a new one has them read again', async () => {
    const name = await register('system/*.rs');
    expect(await status(await sign({ client_id: name }))).toBe(200);
    const newer = await makeKey('ES256');
    published = [key.jwk, newer.jwk];
    letPass(11_000);
    expect(await status(await sign({ client_id: name }, {}, newer))).toBe(200);
    published = [key.jwk];
  });

  it.each([
    ['it is away', () => undefined],
    ['it calls itself otherwise', () => ({ ...document(), issuer: provider.url })],
    ['it names no keys', () => ({ issuer: issuer() })],
    ['its keys are nowhere', () => ({ issuer: issuer(), jwks_uri: 'keys' })],
    // Not its own host: the rules for any other address hold, and they take no plain http.
    ['its keys are elsewhere', () => ({ issuer: issuer(), jwks_uri: 'http://127.0.0.1:1/keys' })],
  ])('cannot be read when %s: 503, and nobody is called a liar', async (_name, said) => {
    const fresh = await openTestGateway({ PUBLIC_URL, AUTH_ISSUER: issuer() });
    if (said() === undefined) away = true;
    else discovery = said;
    const token = await sign({ client_id: 'somebody' });
    const { status: answered, headers } = await fresh.ask('/fhir/Observation', { token });
    expect(answered).toBe(503);
    expect(Number(headers.get('retry-after'))).toBeGreaterThan(0);
    // Our own tokens do not need it.
    expect(
      (await fresh.ask('/fhir/Observation', { token: await fresh.token('system/*.rs') })).status,
    ).toBe(200);
    await fresh.close();
  });
});

describe('without AUTH_ISSUER', () => {
  it('no other issuer is taken', async () => {
    const fresh = await openTestGateway({ PUBLIC_URL });
    const source = { name: 'x', attended: true };
    await addClient(fresh.database.pool, {
      ...{ name: 'x', scopes: ['system/*.rs'], source, externalId: 'known' },
    });
    const token = await sign({ client_id: 'known' });
    expect((await fresh.ask('/fhir/Observation', { token })).status).toBe(401);
    await fresh.close();
  });
});
