import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { Told, TestGateway } from '../setup/gateway.js';

const PUBLIC_URL = 'http://127.0.0.1:8080';
const WRITERS = 8;
const RUN_MS = 9_000;
const KILL_EVERY_MS = 1_500;

interface Bundle {
  readonly entry?: readonly {
    readonly search?: { readonly mode: string };
    readonly resource: {
      readonly resourceType: string;
      readonly id: string;
      readonly meta: { readonly versionId: string; readonly lastUpdated: string };
    };
  }[];
  readonly link: readonly { readonly relation: string; readonly url: string }[];
}

/** A gateway process that is started again whenever it is killed. */
class Process {
  port = 0;
  #child: ChildProcess | undefined;
  readonly #databaseUrl: string;

  constructor(databaseUrl: string) {
    this.#databaseUrl = databaseUrl;
  }

  async start(): Promise<void> {
    this.port = await freePort();
    const child = spawn(process.execPath, [join(process.cwd(), 'dist/main.js')], {
      env: {
        ...process.env,
        DATABASE_URL: this.#databaseUrl,
        PORT: String(this.port),
        PUBLIC_URL,
        LOG_LEVEL: 'silent',
      },
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    this.#child = child;
    await new Promise((resolve, reject) => {
      child.stdout.once('data', resolve);
      child.once('exit', () => {
        reject(new Error('the gateway did not start'));
      });
    });
  }

  async kill(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const child = this.#child;
    if (child?.exitCode !== null) return;
    const gone = new Promise((resolve) => child.once('exit', resolve));
    child.kill(signal);
    await gone;
  }
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

let home: TestGateway;
let processes: Process[];
let token: string;
let record: string;
let patients: TestPatient[];

beforeAll(async () => {
  home = await openTestGateway({ PUBLIC_URL });
  token = await home.token('sets.write');
  record = await home.token('system/*.rs');
  patients = await Promise.all(
    Array.from({ length: 6 }, (_, n) => registerPatient(home, `LF-37${String(100 + n)}`)),
  );
  processes = [new Process(home.database.databaseUrl), new Process(home.database.databaseUrl)];
  await Promise.all(processes.map((one) => one.start()));
}, 60_000);
afterAll(async () => {
  await Promise.all(processes.map((one) => one.kill('SIGTERM')));
  await home.close();
});

/** Asks any process until one answers; what was sent is sent again, as a sender does. */
async function insist<T>(path: string, ask: Parameters<typeof askAt>[1]): Promise<Told<T>> {
  for (let n = Math.floor(Math.random() * 2); ; n += 1) {
    const one = processes[n % processes.length];
    const answer = await askAt<T>(`http://127.0.0.1:${one?.port ?? 0}${path}`, ask).catch(
      () => null,
    );
    if (answer !== null && answer.status < 500) return answer;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function write(endMs: number, acknowledged: string[]): Promise<void> {
  while (Date.now() < endMs) {
    const patient = patients[Math.floor(Math.random() * patients.length)];
    if (patient === undefined) break;
    const body = setOf(patient, [oxygen(97), pressure('auscultation', 118, 76)]);
    const answer = await insist('/sets', { body, token });
    if (answer.status === 201) acknowledged.push(body.setId);
    if (Math.random() < 0.3) {
      const decision = { action: 'withdraw', reason: 'sent twice', reasonCode: 'duplicate' };
      await insist(`/sets/${body.setId}/readings/0/decisions`, {
        body: { ...decision, expectedVersion: 1 },
        token,
      });
    }
  }
}

/** Follows `next` to the end, then starts from the greatest stamp seen: the contract's poller. */
async function poll(seen: Map<string, string>, since: string): Promise<string> {
  let greatest = since;
  let path = `/fhir/Observation?_lastUpdated=gt${encodeURIComponent(since)}&_sort=_lastUpdated&_count=50`;
  for (;;) {
    const page = await insist<Bundle>(path, { token: record });
    for (const entry of page.body.entry ?? []) {
      if (entry.resource.resourceType !== 'Observation') continue;
      seen.set(entry.resource.id, entry.resource.meta.versionId);
      const { lastUpdated } = entry.resource.meta;
      if (lastUpdated > greatest) greatest = lastUpdated;
    }
    const next = page.body.link.find((link) => link.relation === 'next');
    if (next === undefined) return greatest;
    path = next.url.slice(PUBLIC_URL.length);
  }
}

async function readHistory(seen: Set<string>, since: string): Promise<string> {
  let greatest = since;
  let path = `/fhir/Observation/_history?_since=${encodeURIComponent(since)}&_count=50`;
  for (;;) {
    const page = await insist<Bundle>(path, { token: record });
    for (const { resource } of page.body.entry ?? []) {
      seen.add(`${resource.id}/${resource.meta.versionId}`);
      if (resource.meta.lastUpdated > greatest) greatest = resource.meta.lastUpdated;
    }
    const next = page.body.link.find((link) => link.relation === 'next');
    if (next === undefined) return greatest;
    path = next.url.slice(PUBLIC_URL.length);
  }
}

it('loses and doubles nothing while processes are killed, and readers end with the truth', async () => {
  const endMs = Date.now() + RUN_MS;
  const acknowledged: string[] = [];
  const newest = new Map<string, string>();
  const versions = new Set<string>();
  const epoch = '1970-01-01T00:00:00.000Z';
  const ending = new AbortController();
  const poller = (async () => {
    let since = epoch;
    while (!ending.signal.aborted) since = await poll(newest, since);
    return poll(newest, since);
  })();
  const historian = (async () => {
    let since = epoch;
    while (!ending.signal.aborted) since = await readHistory(versions, since);
    return readHistory(versions, since);
  })();
  const killer = (async () => {
    for (let n = 0; Date.now() < endMs - KILL_EVERY_MS; n += 1) {
      await new Promise((resolve) => setTimeout(resolve, KILL_EVERY_MS));
      const one = processes[n % processes.length];
      await one?.kill();
      await one?.start();
    }
  })();
  await Promise.all(Array.from({ length: WRITERS }, () => write(endMs, acknowledged)));
  await killer;
  ending.abort();
  await Promise.all([poller, historian]);

  const { rows: sets } = await home.database.pool.query<{ set_id: string; n: number }>(
    'select set_id, count(*) as n from submissions where holds_key group by set_id',
  );
  const stored = new Map(sets.map((row) => [row.set_id, row.n]));
  expect(acknowledged.length).toBeGreaterThan(50);
  for (const setId of acknowledged) expect(stored.get(setId)).toBe(1);
  const { rows } = await home.database.pool.query<{ id: string; version: number; newest: boolean }>(
    'select reading_id as id, version, superseded is null as newest from readings where status is not null',
  );
  const truth = new Map(
    rows.filter((row) => row.newest).map((row) => [row.id, String(row.version)]),
  );
  expect(newest).toEqual(truth);
  expect([...versions].sort()).toEqual(rows.map((row) => `${row.id}/${row.version}`).sort());
}, 90_000);
