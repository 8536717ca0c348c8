import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { GatewayProcess, PUBLIC_URL, insistOn } from '../setup/gateway-process.js';
import { openTestGateway } from '../setup/gateway.js';
import type { Ask, TestGateway, Told } from '../setup/gateway.js';
import { ASYNC } from '../serve/exports/export-client.js';
import type { Exported, Manifest } from '../serve/exports/export-client.js';

const WRITERS = 4;
const RUN_MS = 6_000;
const KILL_EVERY_MS = 1_200;

let home: TestGateway;
let processes: GatewayProcess[];
let sender: string;
let record: string;
let patients: TestPatient[];

beforeAll(async () => {
  home = await openTestGateway({ PUBLIC_URL });
  sender = await home.token('sets.write');
  record = await home.token('system/*.rs');
  patients = await Promise.all(
    Array.from({ length: 4 }, (_, n) => registerPatient(home, `LF-38${String(100 + n)}`)),
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

async function write(endMs: number): Promise<void> {
  while (Date.now() < endMs) {
    const patient = patients[Math.floor(Math.random() * patients.length)];
    if (patient === undefined) break;
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

const pathOf = (address: string): string => new URL(address).pathname;

/** One export, told by whichever process is alive; the transaction time, from which the next goes on. */
async function exportSince(since: string, seen: Map<string, string>): Promise<string> {
  const kickOff = await insist(`/fhir/$export?_type=Observation&_since=${since}`, {
    token: record,
    headers: ASYNC,
  });
  expect(kickOff.status).toBe(202);
  const status = pathOf(kickOff.headers.get('content-location') ?? '');
  for (;;) {
    const { status: code, body } = await insist<Manifest>(status, { token: record });
    if (code === 200) {
      for (const { url, count } of body.output) {
        const file = await insist(pathOf(url), { token: record });
        const lines = file.text.split('\n').slice(0, -1);
        expect(lines).toHaveLength(count);
        for (const line of lines) note(JSON.parse(line) as Exported, since, body, seen);
      }
      await insist(status, { token: record, method: 'DELETE' });
      return body.transactionTime;
    }
    expect(code).toBe(202);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

function note(
  { id, meta }: Exported,
  since: string,
  { transactionTime }: Manifest,
  seen: Map<string, string>,
): void {
  expect(meta.lastUpdated > since && meta.lastUpdated <= transactionTime).toBe(true);
  seen.set(id, meta.versionId);
}

it('exports that follow each other give every change, while processes are killed', async () => {
  const endMs = Date.now() + RUN_MS;
  const newest = new Map<string, string>();
  const ending = new AbortController();
  let exports = 0;
  const exporter = (async () => {
    let since = '1970-01-01T00:00:00.000Z';
    while (!ending.signal.aborted) {
      since = await exportSince(since, newest);
      exports += 1;
    }
    await exportSince(since, newest);
  })();
  const killer = (async () => {
    for (let n = 0; Date.now() < endMs - KILL_EVERY_MS; n += 1) {
      await new Promise((resolve) => setTimeout(resolve, KILL_EVERY_MS));
      const one = processes[n % processes.length];
      await one?.kill();
      await one?.start();
    }
  })();
  await Promise.all(Array.from({ length: WRITERS }, () => write(endMs)));
  await killer;
  ending.abort();
  await exporter;

  const { rows } = await home.database.pool.query<{ id: string; version: number }>(
    `select reading_id as id, version from readings where superseded is null and status is not null
     union all select panel_id, version from panels where superseded is null`,
  );
  expect(exports).toBeGreaterThan(1);
  expect(rows.length).toBeGreaterThan(20);
  expect(rows.some(({ version }) => version > 1)).toBe(true);
  expect(newest).toEqual(new Map(rows.map((row) => [row.id, String(row.version)])));
}, 120_000);
