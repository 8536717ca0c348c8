import type { Bundle, FhirResource, Subscription } from 'fhir/r4.js';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { GatewayProcess, PUBLIC_URL, insistOn } from '../setup/gateway-process.js';
import { openTestGateway } from '../setup/gateway.js';
import type { Ask, TestGateway, Told } from '../setup/gateway.js';
import { Subscriber, asked, notifyingEnv, subscriptionOf, until } from './subscriber.js';
import type { Received } from './subscriber.js';

const WRITERS = 4;
const RUN_MS = 6_000;
const KILL_EVERY_MS = 1_500;

const { env, remove } = notifyingEnv();
let home: TestGateway;
let processes: GatewayProcess[];
let subscriber: Subscriber;
let sender: string;
let record: string;
let patients: TestPatient[];

beforeAll(async () => {
  // It registers clients and patients, and is gone before there is anything to deliver.
  home = await openTestGateway({ PUBLIC_URL, ...env });
  sender = await home.token('sets.write');
  record = await home.token('system/*.rs system/Subscription.cruds');
  patients = await Promise.all(
    Array.from({ length: 4 }, (_, n) => registerPatient(home, `LF-63${String(100 + n)}`)),
  );
  await home.gateway.stop();
  const { databaseUrl } = home.database;
  processes = [new GatewayProcess(databaseUrl, env), new GatewayProcess(databaseUrl, env)];
  await Promise.all(processes.map((one) => one.start()));
  subscriber = await Subscriber.start();
}, 60_000);
afterAll(async () => {
  await Promise.all(processes.map((one) => one.kill('SIGTERM')));
  await home.database.close();
  await subscriber.stop();
  remove();
});

const insist = <T>(path: string, ask: Ask): Promise<Told<T>> => insistOn<T>(processes, path, ask);

async function write(endMs: number): Promise<void> {
  while (Date.now() < endMs) {
    const patient = patients[Math.floor(Math.random() * patients.length)];
    if (patient === undefined) return;
    const body = setOf(patient, [oxygen(97), pressure('auscultation', 118, 76)]);
    await insist('/sets', { body, token: sender });
    if (Math.random() < 0.4) {
      const decision = { action: 'withdraw', reason: 'sent twice', reasonCode: 'duplicate' };
      await insist(`/sets/${body.setId}/readings/0/decisions`, {
        body: { ...decision, expectedVersion: 1 },
        token: sender,
      });
    }
  }
}

async function subscribe(timeout: number): Promise<string> {
  const { body } = await insist<Subscription>('/fhir/Subscription', {
    token: record,
    headers: { 'content-type': 'application/fhir+json' },
    body: subscriptionOf(`${PUBLIC_URL}/fhir`, subscriber.url, {
      channel: { extension: [asked('timeout', timeout), asked('max-count', 5)] },
    }),
  });
  return body.id ?? '';
}

/** Every version that a reader of the history meets, oldest first. */
async function history(): Promise<string[]> {
  const versions: string[] = [];
  let path = '/fhir/Observation/_history?_count=1000';
  for (;;) {
    const { body } = await insist<Bundle<FhirResource>>(path, { token: record });
    for (const { resource } of body.entry ?? []) versions.push(nameOf(resource));
    const next = body.link?.find(({ relation }) => relation === 'next')?.url;
    if (next === undefined) return versions.reverse();
    path = next.slice(PUBLIC_URL.length);
  }
}

function nameOf(resource: FhirResource | undefined): string {
  return `${resource?.id ?? ''} ${resource?.meta?.versionId ?? ''}`;
}

/** By the number of the event, as it came first; a number that comes again tells of the same version. */
function toldIn(received: readonly Received[]): string[] {
  const told: string[] = [];
  for (const { bundle, events } of received) {
    const entries = (bundle.entry ?? []).slice(1);
    expect(entries).toHaveLength(events.length);
    events.forEach(({ number }, i) => {
      const version = nameOf(entries[i]?.resource);
      // None is told before those with lower numbers.
      expect(number).toBeLessThanOrEqual(told.length + 1);
      if (number === told.length + 1) told.push(version);
      else expect(told[number - 1]).toBe(version);
    });
  }
  return told;
}

it('subscribers get every version, in order, while processes are killed', async () => {
  const ids = [await subscribe(1), await subscribe(2)];
  const endMs = Date.now() + RUN_MS;
  const writing = Array.from({ length: WRITERS }, () => write(endMs));
  for (let n = 0; Date.now() + KILL_EVERY_MS < endMs; n += 1) {
    await new Promise((resolve) => setTimeout(resolve, KILL_EVERY_MS));
    const one = processes[n % processes.length];
    await one?.kill();
    await one?.start();
  }
  await Promise.all(writing);
  const versions = await history();
  expect(versions.length).toBeGreaterThan(20);
  for (const id of ids) {
    const own = (): Received[] =>
      subscriber.received.filter(({ text }) => text.includes(`/fhir/Subscription/${id}"`));
    await until(() => toldIn(own()).length === versions.length);
    expect(toldIn(own())).toEqual(versions);
  }
}, 90_000);
