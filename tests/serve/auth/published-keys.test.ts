/**
 * Keys that a client publishes at an address: SMART App Launch 2.2, "Client Authentication: Asymmetric",
 * "Registering a client" and "Signature Verification"; RFC 9111 §5.2.2 for Cache-Control.
 */
import type { RequestListener } from 'node:http';
import { createFetchOutside } from '../../../src/outside/fetch-outside.js';
import { freshMsOf } from '../../../src/serve/auth/key-sets.js';
import { startOutsideServer } from '../../outside/outside-server.js';
import type { OutsideServer } from '../../outside/outside-server.js';
import { AUTHORITY } from '../../outside/test-authority.js';
import { letPass } from '../../setup/clock.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';
import { addKeyedClient, askWithAssertion, makeKeyPair, signAssertion } from './keyed-client.js';
import type { AssertionWords, KeyPair, TokenAnswer } from './keyed-client.js';

let database: TestDatabase;
let app: RunningApp;
let outside: OutsideServer;
let first: KeyPair;
let second: KeyPair;
/** What is published, by path. */
const published = new Map<string, RequestListener>();
const asked = new Map<string, number>();
let paths = 0;

beforeAll(async () => {
  database = await openTestDatabase();
  outside = await startOutsideServer((req, res) => {
    const path = req.url ?? '';
    asked.set(path, (asked.get(path) ?? 0) + 1);
    published.get(path)?.(req, res);
  });
  const fetchOutside = createFetchOutside({
    ...{ hosts: null, networks: ['127.0.0.0/8'], ca: AUTHORITY },
  });
  app = await startApp(database, { fetchOutside });
  [first, second] = await Promise.all([
    makeKeyPair('ES384', 'first'),
    makeKeyPair('RS384', 'second'),
  ]);
});
afterAll(async () => {
  await app.stop();
  await outside.stop();
  await database.close();
});
afterEach(() => {
  jest.useRealTimers();
});

/** A client with an address of its own. */
class Publisher {
  readonly path: string;
  readonly url: string;
  id = '';

  constructor() {
    paths += 1;
    this.path = `/keys-${paths}`;
    this.url = `${outside.url}${this.path}`;
  }

  static async open(keys: readonly KeyPair[], cacheControl?: string): Promise<Publisher> {
    const publisher = new Publisher();
    publisher.publish(keys, cacheControl);
    publisher.id = await addKeyedClient(database, ['sets.write'], { jwksUrl: publisher.url });
    return publisher;
  }

  publish(keys: readonly KeyPair[], cacheControl?: string): void {
    this.answer((_req, res) => {
      if (cacheControl !== undefined) res.setHeader('Cache-Control', cacheControl);
      res.setHeader('Content-Type', 'application/json');
      res.end(JSON.stringify({ keys: keys.map(({ jwk }) => jwk) }));
    });
  }

  answer(listener: RequestListener): void {
    published.set(this.path, listener);
  }

  get fetched(): number {
    return asked.get(this.path) ?? 0;
  }

  async ask(key: KeyPair, words?: AssertionWords): Promise<TokenAnswer> {
    return askWithAssertion(app.url, await signAssertion(key, this.id, app.url, words));
  }
}

describe('keys at an address', () => {
  it('prove their client, and are fetched once while they may be remembered', async () => {
    const client = await Publisher.open([first, second], 'max-age=300');
    let accept: string | undefined;
    published.set(
      client.path,
      ((was) => (req, res) => {
        accept = req.headers.accept;
        was?.(req, res);
      })(published.get(client.path)) satisfies RequestListener,
    );
    const answers = await Promise.all([client.ask(first), client.ask(second), client.ask(first)]);
    expect(answers.map(({ status }) => status)).toEqual([200, 200, 200]);
    expect(client.fetched).toBe(1);
    expect(accept).toBe('application/json');
    letPass(299_000);
    expect((await client.ask(first)).status).toBe(200);
    expect(client.fetched).toBe(1);
    letPass(2_000);
    expect((await client.ask(first)).status).toBe(200);
    expect(client.fetched).toBe(2);
  });

  it('may be named by jku, which must be the registered address to the letter', async () => {
    const client = await Publisher.open([first]);
    expect((await client.ask(first, { header: { jku: client.url } })).status).toBe(200);
    const other = await Publisher.open([first]);
    for (const jku of [other.url, `${client.url}?`, `${client.url}/`, '', 7]) {
      const { status, body } = await client.ask(first, { header: { jku } });
      expect([jku, status, body.error]).toEqual([jku, 400, 'invalid_client']);
    }
    expect(other.fetched).toBe(0);
  });

  it('change: a new one is taken at its first use, the old one is out', async () => {
    const client = await Publisher.open([first], 'max-age=3600');
    expect((await client.ask(first)).status).toBe(200);
    client.publish([second], 'max-age=3600');
    letPass(11_000);
    expect((await client.ask(second)).status).toBe(200);
    expect(client.fetched).toBe(2);
    expect((await client.ask(first)).body.error).toBe('invalid_client');
  });

  it('that are unknown have the set fetched again, but not by every request', async () => {
    const client = await Publisher.open([first], 'max-age=3600');
    expect((await client.ask(first)).status).toBe(200);
    for (let i = 0; i < 4; i += 1) expect((await client.ask(second)).status).toBe(400);
    expect(client.fetched).toBe(1);
    letPass(11_000);
    const many = await Promise.all([1, 2, 3].map(() => client.ask(second)));
    expect(many.map(({ status }) => status)).toEqual([400, 400, 400]);
    expect(client.fetched).toBe(2);
    expect((await client.ask(first)).status).toBe(200);
    expect(client.fetched).toBe(2);
  });

  // "The FHIR authorization server SHALL NOT cache a JWKS for longer than the client's cache-control
  // header indicates."
  it.each(['no-store', 'no-cache', 'max-age=0', 'private, max-age=0'])(
    'are fetched each time when the publisher says %s',
    async (cacheControl) => {
      const client = await Publisher.open([first], cacheControl);
      for (let i = 1; i <= 3; i += 1) {
        expect((await client.ask(first)).status).toBe(200);
        expect(client.fetched).toBe(i);
      }
    },
  );

  it('are refused when two of them answer to kid and kty', async () => {
    const twin = await makeKeyPair('ES384', 'first');
    const client = await Publisher.open([first, twin]);
    expect((await client.ask(first)).body.error).toBe('invalid_client');
  });

  it('are used only for what they say they are for', async () => {
    const client = new Publisher();
    const useOf =
      (change: object): RequestListener =>
      (_req, res) =>
        res
          .setHeader('Cache-Control', 'no-store')
          .end(JSON.stringify({ keys: [{ ...first.jwk, ...change }] }));
    client.answer(useOf({ use: 'enc' }));
    client.id = await addKeyedClient(database, ['sets.write'], { jwksUrl: client.url });
    expect((await client.ask(first)).status).toBe(400);
    client.answer(useOf({ alg: 'ES256' }));
    expect((await client.ask(first)).status).toBe(400);
    client.answer(useOf({ x: 'AAAA' }));
    expect((await client.ask(first)).status).toBe(400);
    client.answer(useOf({ alg: undefined, use: undefined }));
    expect((await client.ask(first)).status).toBe(200);
  });
});

describe('an address that gives no keys', () => {
  it.each<[string, RequestListener]>([
    ['answers 404', (_req, res) => res.writeHead(404).end('{"keys":[]}')],
    ['answers 500', (_req, res) => res.writeHead(500).end()],
    ['sends elsewhere', (_req, res) => res.writeHead(302, { Location: '/keys-1' }).end()],
    ['is not JSON', (_req, res) => res.end('<html>')],
    ['is no set', (_req, res) => res.end('[]')],
    ['has keys that are none', (_req, res) => res.end('{"keys":[7]}')],
    ['is too large', (_req, res) => res.end(`{"keys":[],"x":"${'x'.repeat(70_000)}"}`)],
    ['breaks off', (req) => req.socket.destroy()],
  ])(
    'fails its client in clear words, and is not asked again at once: it %s',
    async (_name, listener) => {
      const client = await Publisher.open([first]);
      client.answer(listener);
      for (let i = 0; i < 3; i += 1) {
        const { status, body } = await client.ask(first);
        expect([status, body.error]).toEqual([400, 'invalid_client']);
        expect(body.error_description).toContain('cannot be read');
      }
      expect(client.fetched).toBe(1);
      expect(app.log()).toContain('key set unavailable');
      client.publish([first]);
      letPass(11_000);
      expect((await client.ask(first)).status).toBe(200);
    },
  );

  it('is of a host inside, which the site has not named', async () => {
    const guarded = await startApp(database, {
      fetchOutside: createFetchOutside({ hosts: null, networks: [], ca: AUTHORITY }),
    });
    const client = await Publisher.open([first]);
    for (const jwksUrl of [client.url, client.url.replace('127.0.0.1', 'localhost')]) {
      const id = await addKeyedClient(database, ['sets.write'], { jwksUrl });
      const assertion = await signAssertion(first, id, guarded.url);
      const { status, body } = await askWithAssertion(guarded.url, assertion);
      expect([status, body.error]).toEqual([400, 'invalid_client']);
    }
    expect(client.fetched).toBe(0);
    expect(guarded.log()).toContain('not connected to');
    await guarded.stop();
  });
});

describe('how long an answer may be used', () => {
  it.each([
    [{}, 300],
    [{ 'cache-control': 'public' }, 300],
    [{ 'cache-control': 'max-age=60' }, 60],
    [{ 'cache-control': 'public, MAX-AGE="60"' }, 60],
    [{ 'cache-control': 'max-age=60', age: '20' }, 40],
    [{ 'cache-control': 'max-age=60', age: '100' }, 0],
    [{ 'cache-control': 'max-age=60', age: 'old' }, 60],
    [{ 'cache-control': 'max-age=31536000' }, 3600],
    [{ 'cache-control': 'max-age=60, no-store' }, 0],
    [{ 'cache-control': 'no-cache' }, 0],
    [{ 'cache-control': 'max-age=-1' }, 0],
    [{ 'cache-control': 'max-age=soon' }, 0],
    [{ 'cache-control': 's-maxage=9' }, 300],
  ])('%j: %s s', (headers, seconds) => {
    expect(freshMsOf(headers)).toBe(seconds * 1000);
  });
});
