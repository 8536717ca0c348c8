import { GatewayProcess, PUBLIC_URL, insistOn } from '../setup/gateway-process.js';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { Ask, Told, TestGateway } from '../setup/gateway.js';
import { panelFaults } from '../setup/panel-faults.js';

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

let home: TestGateway;
let processes: GatewayProcess[];
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
  processes = [
    new GatewayProcess(home.database.databaseUrl),
    new GatewayProcess(home.database.databaseUrl),
  ];
  await Promise.all(processes.map((one) => one.start()));
}, 60_000);
afterAll(async () => {
  await Promise.all(processes.map((one) => one.kill('SIGTERM')));
  await home.close();
});

const insist = <T>(path: string, ask: Ask): Promise<Told<T>> => insistOn<T>(processes, path, ask);

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
    `select reading_id as id, version, superseded is null as newest from readings where status is not null
     union all select panel_id, version, superseded is null from panels`,
  );
  const truth = new Map(
    rows.filter((row) => row.newest).map((row) => [row.id, String(row.version)]),
  );
  expect(newest).toEqual(truth);
  expect(await panelFaults(home.database.pool)).toEqual([]);
  expect([...versions].sort()).toEqual(rows.map((row) => `${row.id}/${row.version}`).sort());
}, 90_000);
