import { Writable } from 'node:stream';
import { pino } from 'pino';
import type { Reply } from '../../../src/pipeline.js';
import { createApp } from '../../../src/serve/app.js';
import type { AppServices } from '../../../src/serve/app.js';
import { startHttpServer } from '../../../src/serve/http/listen.js';
import type { Area } from '../../../src/serve/http/route.js';
import { createMetrics } from '../../../src/serve/operations/metrics.js';
import type { SetPipeline } from '../../../src/serve/sets/pipeline-port.js';
import { AuditTrail } from '../../../src/store/audit-trail.js';
import { addClient } from '../../../src/store/clients.js';
import type { Credentials } from '../../../src/store/clients.js';
import { EditionShelf } from '../../../src/store/edition-shelf.js';
import { readFeedTimes } from '../../../src/store/feed-state.js';
import { Names } from '../../../src/store/names.js';
import type { TestDatabase } from '../../setup/database.js';

export interface RunningApp {
  readonly url: string;
  readonly stop: () => Promise<void>;
  /** Every log line so far, as text. */
  readonly log: () => string;
}

export function reply(status: number, body: unknown, more: Partial<Reply> = {}): Reply {
  return {
    status,
    body: Buffer.from(JSON.stringify(body)),
    problem: false,
    repeat: false,
    ...more,
  };
}

/** A pipeline that no test has said anything about. */
const UNUSED: SetPipeline = {
  receiveSet: () => Promise.reject(new Error('not used')),
  checkSet: () => Promise.reject(new Error('not used')),
  findSet: () => Promise.reject(new Error('not used')),
  listChangedSets: () => Promise.reject(new Error('not used')),
  decideOwn: () => Promise.reject(new Error('not used')),
};

/** An application on a free port, with what is not its subject here left out. */
export async function startApp(
  database: TestDatabase,
  settings: Partial<Omit<AppServices, 'pipeline'>> & {
    pipeline?: Partial<SetPipeline>;
    areas?: readonly Area[];
  } = {},
): Promise<RunningApp> {
  const lines: string[] = [];
  const stream = new Writable({
    write(chunk: Buffer, _encoding, done) {
      lines.push(chunk.toString());
      done();
    },
  });
  const { pipeline, ...others } = settings;
  const audit = new AuditTrail({
    ...{ pool: database.pool, names: new Names(database.pool), program: 'test' },
    onFailure: (error) => lines.push(String(error)),
  });
  const server = await startHttpServer(
    (port) =>
      createApp({
        pool: database.pool,
        metrics: createMetrics(() => readFeedTimes(database.pool)),
        audit,
        log: pino({}, stream),
        publicUrl: `http://127.0.0.1:${port}`,
        tokenMinutes: 5,
        sessionIdleMinutes: 30,
        sessionHours: 12,
        localSignIn: true,
        provider: null,
        rateLimitPerMinute: 100_000,
        trustedProxies: [],
        bedside: {
          ...{ pool: database.pool, editions: new EditionShelf(), clock: Date.now },
          site: { zone: 'UTC', units: {}, identifierKinds: [], idleMinutes: 5 },
        },
        areas: [],
        adminRoutes: [],
        fetchOutside: () => Promise.reject(new Error('nobody is asked')),
        authIssuer: null,
        ...others,
        pipeline: { ...UNUSED, ...pipeline },
      }),
    { host: '127.0.0.1', port: 0, tls: undefined },
  );
  return {
    url: `http://127.0.0.1:${server.port}`,
    async stop() {
      await server.stop();
      await audit.stop();
    },
    log: () => lines.join(''),
  };
}

export async function registerClient(
  database: TestDatabase,
  scopes: readonly string[],
  source = { name: 'larkfield-engine', attended: true },
): Promise<Credentials> {
  const added = await addClient(database.pool, { name: 'test', scopes, source });
  if (added === null) throw new Error('the source is attended in another way');
  return added;
}

export function basic({ clientId, clientSecret }: Credentials): string {
  return `Basic ${Buffer.from(`${clientId}:${clientSecret}`).toString('base64')}`;
}

export async function askToken(
  url: string,
  authorization: string,
  form: Record<string, string> = { grant_type: 'client_credentials' },
): Promise<Response> {
  return fetch(`${url}/auth/token`, {
    method: 'POST',
    headers: { authorization },
    body: new URLSearchParams(form),
  });
}

/** The headers of a client that has just got a token. */
export async function signIn(url: string, client: Credentials): Promise<{ authorization: string }> {
  const response = await askToken(url, basic(client));
  const { access_token: token } = (await response.json()) as { access_token: string };
  return { authorization: `Bearer ${token}` };
}

/** Waits until something has happened that no answer tells of. */
export async function until(happened: () => boolean | Promise<boolean>): Promise<void> {
  for (let i = 0; i < 500; i += 1) {
    if (await happened()) return;
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
  throw new Error('it has not happened within five seconds');
}
