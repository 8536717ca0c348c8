import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { addClient } from '../../src/store/clients.js';
import { openTestDatabase } from './database.js';
import type { TestDatabase } from './database.js';

/** What a test may send. */
export interface Ask {
  readonly method?: string;
  readonly body?: unknown;
  readonly headers?: Readonly<Record<string, string>>;
  readonly token?: string;
}

export interface Told<T = Record<string, unknown>> {
  readonly status: number;
  readonly headers: Headers;
  readonly body: T;
  readonly text: string;
}

/** A whole gateway on a database of its own, reached over a real socket. */
export interface TestGateway {
  readonly database: TestDatabase;
  readonly gateway: Gateway;
  readonly url: string;
  /** A token of a client of the source with these scopes. */
  readonly token: (scopes: string, source?: { name: string; attended: boolean }) => Promise<string>;
  readonly ask: <T = Record<string, unknown>>(path: string, ask?: Ask) => Promise<Told<T>>;
  readonly close: () => Promise<void>;
}

/** Sends JSON, or text as it is, and reads the answer. */
export async function askAt<T>(
  url: string,
  { method, body, headers, token }: Ask,
): Promise<Told<T>> {
  const answer = await fetch(url, {
    method: method ?? (body === undefined ? 'GET' : 'POST'),
    headers: {
      ...(token !== undefined && { authorization: `Bearer ${token}` }),
      ...(body !== undefined && { 'content-type': 'application/json' }),
      ...headers,
    },
    ...(body !== undefined && { body: typeof body === 'string' ? body : JSON.stringify(body) }),
  });
  const text = await answer.text();
  const isJson = (answer.headers.get('content-type') ?? '').includes('json');
  const parsed = (
    isJson && text !== '' && !(answer.headers.get('content-type') ?? '').includes('ndjson')
      ? JSON.parse(text)
      : {}
  ) as T;
  return { status: answer.status, headers: answer.headers, body: parsed, text };
}

/**
 * Starts one; `env` holds configuration variables. People sign in with the pages by a password if it
 * says so: then `tests/setup/browser.ts` registers them.
 */
export async function openTestGateway(
  env: Readonly<Record<string, string>> = {},
  { localSignIn = false } = {},
): Promise<TestGateway> {
  const database = await openTestDatabase();
  const read = readConfig({ PORT: '0', DATABASE_URL: database.databaseUrl, ...env });
  const config = { ...read, localSignIn };
  const gateway = createGateway(config, database.pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  const url = `http://127.0.0.1:${port}`;
  let clients = 0;
  return {
    database,
    gateway,
    url,
    async token(scopes, source = { name: 'ward tablets', attended: true }) {
      clients += 1;
      const name = `client ${clients}`;
      const client = await addClient(database.pool, { name, scopes: scopes.split(' '), source });
      if (client === null) throw new Error('the source is attended in another way');
      const basic = Buffer.from(`${client.clientId}:${client.clientSecret}`).toString('base64');
      const answer = await fetch(`${url}/auth/token`, {
        method: 'POST',
        headers: { authorization: `Basic ${basic}` },
        body: new URLSearchParams({ grant_type: 'client_credentials' }),
      });
      return ((await answer.json()) as { access_token: string }).access_token;
    },
    ask: (path, ask = {}) => askAt(`${url}${path}`, ask),
    async close() {
      await gateway.stop();
      await database.close();
    },
  };
}
