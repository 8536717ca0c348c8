/**
 * Clients that prove themselves by signed assertions: RFC 7523 §3, RFC 7521 §4.2, and SMART App Launch 2.2
 * ("Client Authentication: Asymmetric", "Backend Services"). The client's side is the library jose.
 */
import { randomUUID } from 'node:crypto';
import { decodeJwt, SignJWT } from 'jose';
import { setDisabled, setEnd } from '../../../src/store/clients.js';
import { useAssertion } from '../../../src/store/used-assertions.js';
import { letPass } from '../../setup/clock.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { askToken, basic, registerClient, reply, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';
import {
  addKeyedClient,
  askWithAssertion,
  ASSERTION_TYPE,
  makeKeyPair,
  signAssertion,
} from './keyed-client.js';
import type { AssertionWords, KeyPair, TokenAnswer } from './keyed-client.js';

const SCOPES = ['system/*.rs', 'system/Subscription.cruds', 'sets.write'];
const SET = '0190a2c4-0000-4000-8000-000000000021';
const seconds = (): number => Math.floor(Date.now() / 1000);

let database: TestDatabase;
let app: RunningApp;
let rsa: KeyPair;
let ec: KeyPair;
let client: string;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database, {
    pipeline: { findSet: () => Promise.resolve(reply(200, {})) },
  });
  [rsa, ec] = await Promise.all([makeKeyPair('RS384'), makeKeyPair('ES384')]);
  client = await addKeyedClient(database, SCOPES, { jwks: { keys: [rsa.jwk, ec.jwk] } });
});
afterAll(async () => {
  await app.stop();
  await database.close();
});
afterEach(() => {
  jest.useRealTimers();
});

/** A client of its own, so that failures of others are not counted with its. */
async function freshClient(keys: readonly KeyPair[] = [ec]): Promise<string> {
  return addKeyedClient(database, SCOPES, { jwks: { keys: keys.map(({ jwk }) => jwk) } });
}

async function ask(key: KeyPair, words?: AssertionWords, id = client): Promise<TokenAnswer> {
  return askWithAssertion(app.url, await signAssertion(key, id, app.url, words));
}

describe('a signed assertion', () => {
  it.each(['RS384', 'ES384'])('of a registered key gets a token: %s', async (alg) => {
    const key = alg === 'RS384' ? rsa : ec;
    const { status, headers, body } = await ask(key);
    expect(status).toBe(200);
    expect(headers.get('cache-control')).toBe('no-store');
    expect(headers.get('content-type')).toMatch(/^application\/json/);
    // "Access token response": token_type bearer (RFC 6749 §5.1: in whatever case), expires_in up to 300.
    expect(String(body.token_type).toLowerCase()).toBe('bearer');
    expect(body.expires_in).toBeLessThanOrEqual(300);
    expect(body).not.toHaveProperty('refresh_token');
    expect(body.scope).toBe(SCOPES.join(' '));
    const token = String(body.access_token);
    expect(decodeJwt(token).sub).toBe(client);
    const used = { headers: { authorization: `Bearer ${token}` } };
    expect((await fetch(`${app.url}/sets/${SET}`, used)).status).toBe(200);
  });

  it('may name the client beside it, in keeping with it (RFC 7521 §4.2)', async () => {
    const assertion = (): Promise<string> => signAssertion(ec, client, app.url);
    const named = await askWithAssertion(app.url, await assertion(), { client_id: client });
    expect(named.status).toBe(200);
    const other = await askWithAssertion(app.url, await assertion(), { client_id: randomUUID() });
    expect([other.status, other.body.error]).toEqual([400, 'invalid_request']);
  });

  it.each<[string, AssertionWords]>([
    ['iss is missing', { claims: { iss: undefined } }],
    ['sub is missing', { claims: { sub: undefined } }],
    ['sub is another', { claims: { sub: randomUUID() } }],
    ['iss is a list', { claims: { iss: [1] } }],
    ['aud is missing', { claims: { aud: undefined } }],
    ['aud is the base address', { claims: { aud: 'http://127.0.0.1' } }],
    ['aud is one of several', { claims: { aud: ['https://other.example/token'] } }],
    ['exp is missing', { claims: { exp: undefined } }],
    ['exp is past', { claims: { exp: seconds() - 60 } }],
    ['exp is a text', { claims: { exp: '2030-01-01' } }],
    ['exp is more than five minutes ahead', { claims: { exp: seconds() + 3600 } }],
    ['exp is far ahead', { claims: { exp: 1e300 } }],
    ['nbf is to come', { claims: { nbf: seconds() + 200 } }],
    ['jti is missing', { claims: { jti: undefined } }],
    ['jti is empty', { claims: { jti: '' } }],
    ['jti is a number', { claims: { jti: 7 } }],
    ['jti is very long', { claims: { jti: 'x'.repeat(300) } }],
    ['typ is missing', { header: { typ: undefined } }],
    ['typ is another', { header: { typ: 'at+jwt' } }],
    ['kid is missing', { header: { kid: undefined } }],
    ['kid is another', { header: { kid: 'unknown' } }],
    ['jku is there, though no address is registered', { header: { jku: 'https://keys.example/' } }],
  ])('is refused when %s', async (_name, words) => {
    const id = await freshClient();
    const { status, headers, body } = await ask(ec, words, id);
    // RFC 6749 §5.2: 400, since no Authorization header was used.
    expect([status, body.error]).toEqual([400, 'invalid_client']);
    expect(headers.get('cache-control')).toBe('no-store');
    // RFC 6749 §5.2: the characters of a description.
    expect(body.error_description).toMatch(/^[\x20-\x21\x23-\x5b\x5d-\x7e]{10,}$/);
    expect((await ask(ec, {}, id)).status).toBe(200);
  });

  it('is refused for two audiences, one of them right', async () => {
    const aud = [`${app.url}/auth/token`, 'https://other.example/token'];
    expect((await ask(ec, { claims: { aud } })).body.error).toBe('invalid_client');
    const list = await ask(ec, { claims: { aud: [`${app.url}/auth/token`] } });
    expect(list.status).toBe(200);
  });

  it('is refused when another key has signed it, or none, or a shared secret', async () => {
    const stranger = await makeKeyPair('ES384', ec.jwk.kid);
    const id = await freshClient();
    expect((await ask(stranger, {}, id)).body.error).toBe('invalid_client');
    const good = await signAssertion(ec, id, app.url);
    const [header = '', payload = '', signature = ''] = good.split('.');
    const encode = (value: object): string =>
      Buffer.from(JSON.stringify(value)).toString('base64url');
    const secret = new TextEncoder().encode(JSON.stringify(ec.jwk));
    const shared = await new SignJWT(decodeJwt(good))
      .setProtectedHeader({ alg: 'HS256', typ: 'JWT', kid: ec.jwk.kid })
      .sign(secret);
    const altered = encode({ ...decodeJwt(good), jti: 'another' });
    for (const forged of [
      `${encode({ alg: 'none', typ: 'JWT', kid: ec.jwk.kid })}.${payload}.`,
      `${header}.${altered}.${signature}`,
      `${header}.${payload}.`,
      shared,
      'nonsense',
      'a.b.c',
    ]) {
      const { status, body } = await askWithAssertion(app.url, forged);
      expect([forged, status, body.error]).toEqual([forged, 400, 'invalid_client']);
    }
    expect((await askWithAssertion(app.url, good)).status).toBe(200);
  });

  it('is refused when it asks for something that nobody knows (RFC 7515 §4.1.11)', async () => {
    const claims = decodeJwt(await signAssertion(ec, client, app.url));
    const sign = async (crit: object): Promise<string> =>
      new SignJWT(claims)
        .setProtectedHeader({ alg: 'ES384', typ: 'JWT', kid: ec.jwk.kid, 'urn:x': 1, ...crit })
        .sign(ec.privateKey, { crit: { 'urn:x': true } });
    const critical = await askWithAssertion(app.url, await sign({ crit: ['urn:x'] }));
    expect(critical.body.error).toBe('invalid_client');
    expect((await askWithAssertion(app.url, await sign({}))).status).toBe(200);
  });

  it('fits the type of its key, not its kid alone', async () => {
    const twin = { ...rsa, jwk: { ...rsa.jwk, kid: 'twin' } };
    const other = { ...ec, jwk: { ...ec.jwk, kid: 'twin' } };
    const id = await freshClient([twin, other]);
    expect((await ask(twin, {}, id)).status).toBe(200);
    expect((await ask(other, {}, id)).status).toBe(200);
  });

  it('is refused when several keys have its kid and type', async () => {
    const second = await makeKeyPair('ES384', ec.jwk.kid);
    const id = await freshClient([ec, second]);
    const { body } = await ask(ec, {}, id);
    expect(body.error).toBe('invalid_client');
  });

  it('is refused of a client that is not there, disabled, or past its end: all in the same words', async () => {
    const [disabled, ended] = [await freshClient(), await freshClient()];
    expect((await ask(ec, {}, disabled)).status).toBe(200);
    await setDisabled(database.pool, disabled, Date.now());
    await setEnd(database.pool, ended, Date.now() - 1);
    const answers = await Promise.all(
      [disabled, ended, randomUUID(), 'nobody', '\u0000'].map((id) => ask(ec, {}, id)),
    );
    const wrongKey = await ask(await makeKeyPair('ES384'), {}, await freshClient());
    for (const { status, body } of [...answers, wrongKey]) {
      expect([status, body]).toEqual([400, wrongKey.body]);
    }
  });

  it('tells the log why, and nothing of the assertion', async () => {
    const id = await freshClient();
    const assertion = await signAssertion(ec, id, app.url, { header: { kid: 'lost' } });
    await askWithAssertion(app.url, assertion);
    const line = app
      .log()
      .split('\n')
      .find((one) => one.includes(id) && one.includes('reason'));
    expect(JSON.parse(line ?? '{}')).toMatchObject({
      clientId: id,
      reason: 'no key has this kid and kty',
    });
    expect(app.log()).not.toContain(assertion.split('.')[1]);
  });

  it('of a client that fails again and again is slowed down, and of nobody else', async () => {
    const id = await freshClient();
    for (let i = 0; i < 10; i += 1) await ask(ec, { header: { kid: 'lost' } }, id);
    expect((await ask(ec, {}, id)).status).toBe(429);
    expect((await ask(ec, {}, await freshClient())).status).toBe(200);
  });
});

describe('one client, one proof', () => {
  it('keys and no secret, or a secret and no keys', async () => {
    const withSecret = await registerClient(database, ['sets.write']);
    expect((await askToken(app.url, basic(withSecret))).status).toBe(200);
    expect((await ask(ec, {}, withSecret.clientId)).body.error).toBe('invalid_client');
    for (const clientSecret of ['', 'null']) {
      const answer = await askToken(app.url, basic({ clientId: client, clientSecret }));
      expect(answer.status).toBe(401);
    }
  });

  // RFC 6749 §2.3: "The client MUST NOT use more than one authentication method in each request."
  it('a request with two is refused, as are halves of one', async () => {
    const assertion = await signAssertion(ec, client, app.url);
    const withSecret = await registerClient(database, ['sets.write']);
    const authorization = basic(withSecret);
    const both = await askWithAssertion(app.url, assertion, {}, { authorization });
    expect([both.status, both.body.error]).toEqual([400, 'invalid_request']);
    for (const form of [
      { client_assertion_type: ASSERTION_TYPE },
      { client_assertion: assertion },
      { client_assertion_type: ASSERTION_TYPE, client_assertion: '' },
      { client_assertion_type: 'urn:ietf:params:oauth:client-assertion-type:saml2-bearer' },
    ]) {
      const answer = await fetch(`${app.url}/auth/token`, {
        method: 'POST',
        body: new URLSearchParams({ grant_type: 'client_credentials', ...form }),
      });
      expect([form, answer.status]).toEqual([form, 400]);
      expect(await answer.json()).toHaveProperty('error', 'invalid_request');
    }
    // Nothing of this has used it up.
    expect((await askWithAssertion(app.url, assertion)).status).toBe(200);
  });

  it('the grant is still client credentials', async () => {
    const assertion = await signAssertion(ec, client, app.url);
    const { status, body } = await askWithAssertion(app.url, assertion, { grant_type: 'password' });
    expect([status, body.error]).toEqual([400, 'unsupported_grant_type']);
  });
});

// "check that the jti value has not been previously encountered for the given iss".
describe('an assertion is good once', () => {
  it('in one process', async () => {
    const assertion = await signAssertion(ec, client, app.url);
    expect((await askWithAssertion(app.url, assertion)).status).toBe(200);
    const again = await askWithAssertion(app.url, assertion);
    expect([again.status, again.body.error]).toEqual([400, 'invalid_client']);
    expect(again.body.error_description).toContain('used before');
  });

  it('in all processes, however close', async () => {
    const publicUrl = 'https://gateway.example';
    const apps = await Promise.all([1, 2].map(() => startApp(database, { publicUrl })));
    const id = await freshClient();
    for (let round = 0; round < 5; round += 1) {
      const assertion = await signAssertion(ec, id, publicUrl);
      const answers = await Promise.all(apps.map(({ url }) => askWithAssertion(url, assertion)));
      expect(answers.map(({ status }) => status).sort()).toEqual([200, 400]);
    }
    await Promise.all(apps.map(({ stop }) => stop()));
  });

  it('for each client: two may have the same jti', async () => {
    const jti = randomUUID();
    const [one, other] = [await freshClient(), await freshClient()];
    for (const id of [one, other]) {
      expect((await ask(ec, { claims: { jti } }, id)).status).toBe(200);
      expect((await ask(ec, { claims: { jti } }, id)).status).toBe(400);
    }
  });

  it('also when it asked for too much', async () => {
    const assertion = await signAssertion(ec, client, app.url);
    const tooMuch = await askWithAssertion(app.url, assertion, { scope: 'admin' });
    expect(tooMuch.body.error).toBe('invalid_scope');
    expect((await askWithAssertion(app.url, assertion)).body.error).toBe('invalid_client');
  });

  it('and is not used up by somebody who cannot sign it', async () => {
    const jti = randomUUID();
    const stranger = await makeKeyPair('ES384', ec.jwk.kid);
    expect((await ask(stranger, { claims: { jti } })).status).toBe(400);
    expect((await ask(ec, { claims: { jti } })).status).toBe(200);
  });

  it('and is forgotten once it has ended by itself', async () => {
    const { rows } = await database.pool.query<{ client_key: number }>(
      'select client_key from clients where client_id = $1',
      [client],
    );
    const key = rows[0]?.client_key ?? 0;
    const kept = async (): Promise<number> => {
      const found = await database.pool.query<{ count: number }>(
        'select count(*)::int as count from used_assertions',
      );
      return found.rows[0]?.count ?? 0;
    };
    for (let i = 0; i < 150; i += 1) {
      expect(await useAssertion(database.pool, key, `old-${i}`, Date.now() + 1_000)).toBe(true);
    }
    const before = await kept();
    letPass(120_000);
    await useAssertion(database.pool, key, 'new-1', Date.now() + 300_000);
    await useAssertion(database.pool, key, 'new-2', Date.now() + 300_000);
    // All of the old ones, in two goes, and none that may still be sent again.
    expect(await kept()).toBe(before - 150 + 2);
    expect(await useAssertion(database.pool, key, 'new-1', Date.now() + 300_000)).toBe(false);
  });
});

// SMART App Launch 2.2: "the server SHALL mediate the request to assure that the scope requested is
// within the scope pre-authorized to the client".
describe('scopes', () => {
  async function granted(scope: string, id = client): Promise<unknown> {
    const { body } = await askWithAssertion(app.url, await signAssertion(ec, id, app.url), {
      scope,
    });
    return body.scope ?? body.error;
  }

  it('are granted as they were asked for', async () => {
    const narrow =
      'system/Observation.rs?category=http://terminology.hl7.org/CodeSystem/observation-category|vital-signs';
    for (const scope of [
      'system/*.rs',
      'system/Patient.r system/Observation.s',
      narrow,
      // "SHOULD return v1 scopes when v1 scopes are requested and granted".
      'system/Observation.read system/Patient.read',
      'system/Subscription.*',
    ]) {
      expect(await granted(scope)).toBe(scope);
    }
    expect(await granted('system/Patient.r system/Patient.r')).toBe('system/Patient.r');
  });

  it.each([
    'system/Observation.write',
    'system/Observation.*',
    'system/Observation.crs',
    'system/AuditEvent.rs',
    'system/AuditEvent.read',
    'user/Observation.rs',
    'system/Observation.dus',
    'system/Observation.rs?date=ge2020',
    'system/Patient.rs?_id=1',
    'openid',
    'admin',
    'system/Patient.rs admin',
    'sch"ön',
  ])('that are not held or not known are refused: %s', async (scope) => {
    expect(await granted(scope)).toBe('invalid_scope');
  });

  it('that a narrowed client holds cannot be widened', async () => {
    const held = ['system/Observation.rs?status=final,amended'];
    const id = await addKeyedClient(database, held, { jwks: { keys: [ec.jwk] } });
    expect(await granted('', id)).toBe(held[0]);
    expect(await granted('system/Observation.r?status=final', id)).toBe(
      'system/Observation.r?status=final',
    );
    expect(await granted('system/Observation.rs', id)).toBe('invalid_scope');
    expect(await granted('system/Observation.rs?status=final,preliminary', id)).toBe(
      'invalid_scope',
    );
  });
});
