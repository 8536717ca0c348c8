/** Files are made while they are fetched: what a client does not take is not read ahead, nor kept in memory. */
import { createServer, get } from 'node:http';
import type { IncomingMessage, Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { createInterface } from 'node:readline';
import express from 'express';
import { ExportPlanner } from '../../../src/background/export-planner.js';
import { fhirIntake } from '../../../src/compose/fhir-intake.js';
import { MAX_FETCHES } from '../../../src/serve/exports/export-file.js';
import { exportSiteOf } from '../../../src/serve/exports/export-types.js';
import { createGate } from '../../../src/serve/exports/gate.js';
import { exportArea } from '../../../src/serve/exports/routes.js';
import { mountAreas } from '../../../src/serve/http/mount-areas.js';
import { renderError } from '../../../src/serve/http/render-error.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { askAt } from '../../setup/gateway.js';
import type { Told } from '../../setup/gateway.js';
import { ASYNC } from './export-client.js';
import type { Manifest } from './export-client.js';
import { insertReadings } from './many-readings.js';

const READINGS = 20_000;
/** Of 500 rows. */
const PAGES = READINGS / 500;

let database: TestDatabase;
let server: Server;
let url: string;
let planner: ExportPlanner;
let nowMs = Date.now();
let pagesRead = 0;

beforeAll(async () => {
  database = await openTestDatabase();
  const { pool } = database;
  await insertReadings(pool, READINGS);
  await pool.query(
    "insert into clients (client_id, name, secret_sha256, scopes, source_key) values ('c', 'c', '', '{}', 1)",
  );
  const app = express();
  server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  url = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const site = exportSiteOf(pool, url, 'UTC');
  const clock = (): number => nowMs;
  const onFailure = (error: unknown): void => {
    throw error;
  };
  planner = new ExportPlanner({ pool, site, clock, onFailure });
  planner.start();
  const gate = createGate(2);
  const area = exportArea({
    ...site,
    ...{ pool, clock, intake: fhirIntake },
    pages: (work) => {
      pagesRead += 1;
      return gate(work);
    },
    onStarted: () => {
      planner.kick();
    },
  });
  const passing: express.RequestHandler = (_req, _res, next) => {
    next();
  };
  mountAreas(app, [area], {
    identify: () => ({
      ...{ clientKey: 1, clientId: 'c', sourceKey: 1, source: 'many', attended: true },
      ...{ secondIdentifierRequired: false, person: null, scopes: ['system/*.rs'] },
    }),
    findSignedIn: () => Promise.resolve(null),
    limits: { general: passing, check: passing, token: passing, 'look-up': passing },
    record: () => undefined,
  });
  app.use(renderError(() => 'fhir'));
});
afterAll(async () => {
  await planner.stop();
  server.closeAllConnections();
  await new Promise((resolve) => server.close(resolve));
  await database.close();
});

async function exportAll(): Promise<{ status: string; manifest: Manifest }> {
  const { headers } = await askAt(`${url}/fhir/$export`, { headers: ASYNC });
  const status = headers.get('content-location') ?? '';
  for (;;) {
    const answer: Told<Manifest> = await askAt<Manifest>(status, {});
    if (answer.status === 200) return { status, manifest: answer.body };
    expect(answer.status).toBe(202);
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
}

function open(address: string): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    get(address, resolve).on('error', reject);
  });
}

it('reads on only as fast as the client takes it, and hands out every line once', async () => {
  const { manifest } = await exportAll();
  expect(manifest.output.map(({ type, count }) => [type, count])).toEqual([
    ['Observation', READINGS],
  ]);
  pagesRead = 0;
  const file = await open(manifest.output[0]?.url ?? '');
  // Nothing is taken: what goes out is what the buffers of the connection hold, some megabytes.
  file.pause();
  let before = -1;
  while (before !== pagesRead) {
    before = pagesRead;
    await new Promise((resolve) => setTimeout(resolve, 400));
  }
  expect(pagesRead).toBeLessThan(PAGES - 8);
  const seen = new Set<string>();
  for await (const line of createInterface({ input: file })) {
    seen.add((JSON.parse(line) as { id: string }).id);
  }
  expect(seen.size).toBe(READINGS);
});

it('lets a client go that leaves in the middle, and hands the file out again', async () => {
  const { manifest } = await exportAll();
  const address = manifest.output[0]?.url ?? '';
  for (let n = 0; n <= MAX_FETCHES; n += 1) {
    const file = await open(address);
    expect(file.statusCode).toBe(200);
    file.destroy();
    await new Promise((resolve) => file.once('close', resolve));
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  const again = await open(address);
  expect(again.statusCode).toBe(200);
  again.destroy();
});

it('hands out a bounded number of files at once', async () => {
  const { manifest } = await exportAll();
  const address = manifest.output[0]?.url ?? '';
  const files = await Promise.all(Array.from({ length: MAX_FETCHES + 1 }, () => open(address)));
  const statuses = files.map(({ statusCode }) => statusCode).sort();
  expect(statuses).toEqual([...Array.from({ length: MAX_FETCHES }, () => 200), 429]);
  for (const file of files) file.destroy();
});

it('ends an export when its time is over, and forgets it', async () => {
  const { status, manifest } = await exportAll();
  const { headers } = await askAt(status, {});
  nowMs = Date.parse(headers.get('expires') ?? '') + 1000;
  for (const address of [status, manifest.output[0]?.url ?? '']) {
    expect((await askAt(address, {})).status).toBe(404);
  }
  planner.kick();
  for (;;) {
    const { rows } = await database.pool.query<{ left: number }>(
      'select count(*)::int as left from exports',
    );
    if (rows[0]?.left === 0) break;
    await new Promise((resolve) => setTimeout(resolve, 30));
  }
  const { rows } = await database.pool.query('select from export_files');
  expect(rows).toHaveLength(0);
});
