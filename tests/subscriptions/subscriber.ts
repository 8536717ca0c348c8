import type { IncomingHttpHeaders, ServerResponse } from 'node:http';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Bundle, FhirResource, Parameters, Subscription } from 'fhir/r4.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway, Told } from '../setup/gateway.js';
import { startOutsideServer } from '../outside/outside-server.js';
import type { OutsideServer } from '../outside/outside-server.js';
import { AUTHORITY } from '../outside/test-authority.js';
import { topicUrl } from '../../src/serve/fhir/subscriptions/topics.js';

const GUIDE = 'http://hl7.org/fhir/uv/subscriptions-backport/StructureDefinition/';

/** A notification as it arrived. */
export interface Received {
  readonly headers: IncomingHttpHeaders;
  readonly text: string;
  readonly bundle: Bundle<FhirResource>;
  readonly type: string;
  readonly status: string;
  /** By number, with the reference of their focus. */
  readonly events: readonly { readonly number: number; readonly focus: string | undefined }[];
  readonly count: number;
}

function parametersOf(bundle: Bundle<FhirResource>): Parameters {
  return bundle.entry?.[0]?.resource as Parameters;
}

/** What the first entry of a Bundle says (profile backport-subscription-status-r4). */
export function readNotification(text: string, headers: IncomingHttpHeaders = {}): Received {
  const bundle = JSON.parse(text) as Bundle<FhirResource>;
  const { parameter = [] } = parametersOf(bundle);
  const named = (name: string) => parameter.find((one) => one.name === name);
  const events = parameter
    .filter(({ name }) => name === 'notification-event')
    .map(({ part = [] }) => ({
      number: Number(part.find(({ name }) => name === 'event-number')?.valueString),
      focus: part.find(({ name }) => name === 'focus')?.valueReference?.reference,
    }));
  return {
    ...{ headers, text, bundle, events },
    type: named('type')?.valueCode ?? '',
    status: named('status')?.valueCode ?? '',
    count: Number(named('events-since-subscription-start')?.valueString),
  };
}

/** How a subscriber answers; what it sets itself counts. */
export type Answering = (received: Received, res: ServerResponse) => void | Promise<void>;

/** A program that is notified, over TLS on a real socket. */
export class Subscriber {
  readonly received: Received[] = [];
  answering: Answering = () => undefined;
  readonly #server: OutsideServer;

  private constructor(server: OutsideServer) {
    this.#server = server;
  }

  static async start(scheme: 'https' | 'http' = 'https'): Promise<Subscriber> {
    const made: { one?: Subscriber } = {};
    const server = await startOutsideServer((req, res) => {
      const chunks: Buffer[] = [];
      req.on('data', (chunk: Buffer) => chunks.push(chunk));
      req.on('end', () => {
        const received = readNotification(Buffer.concat(chunks).toString(), req.headers);
        made.one?.received.push(received);
        void Promise.resolve(made.one?.answering(received, res)).then(() => {
          if (!res.writableEnded) res.end();
        });
      });
    }, scheme);
    made.one = new Subscriber(server);
    return made.one;
  }

  get url(): string {
    return `${this.#server.url}/notify`;
  }

  /** Events in the order in which they arrived, doubles too. */
  get numbers(): number[] {
    return this.received.flatMap(({ events }) => events.map(({ number }) => number));
  }

  stop(): Promise<void> {
    return this.#server.stop();
  }
}

/** What a gateway must be told so that it notifies programs of this machine by TLS. */
export function notifyingEnv(): { env: Readonly<Record<string, string>>; remove: () => void } {
  const folder = mkdtempSync(join(tmpdir(), 'subscribers-'));
  const file = join(folder, 'authority.pem');
  writeFileSync(file, AUTHORITY);
  return {
    env: { SUBSCRIBER_HOSTS: '127.0.0.1', OUTSIDE_NETWORKS: '127.0.0.0/8', OUTSIDE_CA: file },
    remove() {
      rmSync(folder, { recursive: true });
    },
  };
}

export async function openNotifyingGateway(): Promise<TestGateway> {
  const { env, remove } = notifyingEnv();
  const gateway = await openTestGateway(env);
  return {
    ...gateway,
    async close() {
      await gateway.close();
      remove();
    },
  };
}

export interface Wish {
  readonly topic?: string;
  readonly filters?: readonly string[];
  readonly content?: string;
  readonly more?: Partial<Subscription>;
  readonly channel?: Partial<Subscription['channel']>;
}

/** A Subscription as the guide has it. */
export function subscriptionOf(
  baseUrl: string,
  endpoint: string,
  { topic = 'vital-sign-published', filters = [], content = 'full-resource', ...wish }: Wish = {},
): Subscription {
  return {
    resourceType: 'Subscription',
    status: 'requested',
    reason: 'to chart what is measured',
    criteria: topicUrl(baseUrl, topic),
    ...(filters.length > 0 && {
      _criteria: {
        extension: filters.map((valueString) => ({
          url: `${GUIDE}backport-filter-criteria`,
          valueString,
        })),
      },
    }),
    ...wish.more,
    channel: {
      type: 'rest-hook',
      endpoint,
      payload: 'application/fhir+json',
      _payload: { extension: [{ url: `${GUIDE}backport-payload-content`, valueCode: content }] },
      ...wish.channel,
    },
  };
}

/** A whole number of the channel, as an extension. */
export function asked(
  name: 'heartbeat-period' | 'timeout' | 'max-count',
  value: number,
): { url: string; valueUnsignedInt?: number; valuePositiveInt?: number } {
  const key = name === 'max-count' ? 'valuePositiveInt' : 'valueUnsignedInt';
  return { url: `${GUIDE}backport-${name}`, [key]: value };
}

const FHIR_JSON = { 'content-type': 'application/fhir+json' };

/** The owner of subscriptions, with a token of its own. */
export class Owner {
  readonly #gateway: TestGateway;
  readonly token: string;

  constructor(gateway: TestGateway, token: string) {
    this.#gateway = gateway;
    this.token = token;
  }

  static async of(
    gateway: TestGateway,
    scopes = 'system/*.rs system/Subscription.cruds',
  ): Promise<Owner> {
    return new Owner(gateway, await gateway.token(scopes));
  }

  get baseUrl(): string {
    return `${this.#gateway.url}/fhir`;
  }

  create<T = Subscription>(body: unknown): Promise<Told<T>> {
    return this.ask<T>('', { body, headers: FHIR_JSON });
  }

  async subscribe(endpoint: string, wish: Wish = {}): Promise<string> {
    const { status, body, text } = await this.create(subscriptionOf(this.baseUrl, endpoint, wish));
    if (status !== 201) throw new Error(`${status} ${text}`);
    return body.id ?? '';
  }

  put<T = Subscription>(
    id: string,
    body: unknown,
    headers: Readonly<Record<string, string>> = {},
  ): Promise<Told<T>> {
    return this.ask<T>(`/${id}`, { method: 'PUT', body, headers: { ...FHIR_JSON, ...headers } });
  }

  ask<T = Subscription>(
    path: string,
    ask: { method?: string; body?: unknown; headers?: Readonly<Record<string, string>> } = {},
  ): Promise<Told<T>> {
    return this.#gateway.ask<T>(`/fhir/Subscription${path}`, { token: this.token, ...ask });
  }

  async read(id: string): Promise<Subscription> {
    return (await this.ask(`/${id}`)).body;
  }

  /** What `$status` says, error texts included. */
  async status(id: string): Promise<Received & { readonly errors: readonly string[] }> {
    const { text, body } = await this.ask<Bundle<FhirResource>>(`/${id}/$status`);
    const errors = (parametersOf(body).parameter ?? [])
      .filter(({ name }) => name === 'error')
      .map(({ valueCodeableConcept }) => valueCodeableConcept?.text ?? '');
    return { ...readNotification(text), errors };
  }

  async events(id: string, query = ''): Promise<Received> {
    return readNotification((await this.ask(`/${id}/$events${query}`)).text);
  }
}

/** Waits until something has happened that no answer tells of. */
export async function until(happened: () => boolean | Promise<boolean>): Promise<void> {
  for (let i = 0; i < 1_000; i += 1) {
    if (await happened()) return;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  throw new Error('it has not happened within twenty seconds');
}
