/** Exports whose process is gone are taken over by another one, and come out the same. */
import { randomUUID } from 'node:crypto';
import { ExportPlanner } from '../../src/background/export-planner.js';
import { exportSiteOf, exportableOf } from '../../src/serve/exports/export-types.js';
import type { ExportSite } from '../../src/serve/exports/export-types.js';
import { claimExport, noteProgress } from '../../src/store/export-leases.js';
import { findExport, insertExport, listExportFiles } from '../../src/store/exports.js';
import type { ExportFile, ExportRecord } from '../../src/store/exports.js';
import { readLastStamp } from '../../src/store/publication-clock.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';
import { insertReadings } from '../serve/exports/many-readings.js';

const READINGS = 3_000;
const SIZES = { windowRows: 130, fileResources: 400, fileWindows: 50 };
const HOUR_MS = 3_600_000;
const BOUNDS = { runningOfClient: 10, running: 10, keptOfClient: 10 };
const START_MS = Date.now();

let database: TestDatabase;
let site: ExportSite;
beforeAll(async () => {
  database = await openTestDatabase();
  await insertReadings(database.pool, READINGS);
  await database.pool.query(
    "insert into clients (client_id, name, secret_sha256, scopes, source_key) values ('c', 'c', '', '{}', 1)",
  );
  site = exportSiteOf(database.pool, 'http://127.0.0.1', 'UTC');
});
afterAll(() => database.close());

async function start(patientKeys: number[] | null, filters: string[] = []): Promise<ExportRecord> {
  const { pool } = database;
  const exportId = randomUUID();
  const one = {
    ...{ exportId, clientKey: 1, request: 'x', asOfMs: await readLastStamp(pool) },
    selection: {
      ...{ parts: ['patients', 'observations'], patientKeys, sinceMs: null, untilMs: null },
      scopes: ['system/Patient.rs', 'system/Observation.rs'],
      filters: filters.length === 0 ? {} : { Observation: filters },
    },
    ...{ requestedMs: START_MS, expiresMs: START_MS + HOUR_MS },
  };
  expect(await insertExport(pool, one, BOUNDS)).toBe('kept');
  return { ...one, state: 'running' };
}

/** A planner of another process, at this time, for so long. */
async function work(nowMs: number, forMs = 0): Promise<unknown[]> {
  const failures: unknown[] = [];
  const planner = new ExportPlanner({
    ...{ pool: database.pool, site, sizes: SIZES, clock: () => nowMs },
    onFailure: (error) => failures.push(error),
  });
  planner.kick();
  await new Promise((resolve) => setTimeout(resolve, forMs));
  await planner.stop();
  return failures;
}

async function finish(one: ExportRecord, nowMs: number): Promise<ExportFile[]> {
  for (;;) {
    const found = await findExport(database.pool, one.exportId, 1, nowMs);
    if (found?.state === 'done') return listExportFiles(database.pool, one.exportId);
    expect(found?.state).toBe('running');
    expect(await work(nowMs, 300)).toEqual([]);
  }
}

async function idsOf(one: ExportRecord, files: readonly ExportFile[]): Promise<string[]> {
  const ids: string[] = [];
  for (const file of files) {
    const walk = exportableOf(file.part).walk(site, one);
    let found = 0;
    for (let afterKey = file.afterKey, more = true; more;) {
      const page = await walk.read({ afterKey, untilKey: file.untilKey }, 70);
      const lines = await page.renderLines();
      found += lines.length;
      ids.push(...lines.map((line) => (JSON.parse(line) as { id: string }).id));
      more = page.endKey !== null;
      afterKey = page.endKey;
    }
    expect([file.number, found]).toEqual([file.number, file.resources]);
  }
  return ids;
}

async function readingIds(where = 'true'): Promise<string[]> {
  const { rows } = await database.pool.query<{ id: string }>(
    `select reading_id as id from readings where ${where}`,
  );
  return rows.map(({ id }) => id).sort();
}

it('goes on after the last range that was written down, once the lease has run out', async () => {
  const { pool } = database;
  const one = await start(null);
  const dead = { holder: randomUUID(), nowMs: START_MS, untilMs: START_MS + 30_000 };
  expect((await claimExport(pool, dead))?.exportId).toBe(one.exportId);
  const range = { afterKey: null, untilKey: null };
  const counted = await exportableOf('observations').walk(site, one).count(range, 777);
  expect(counted.resources).toBe(777);
  const first = { number: 1, part: 'patients', ...range, resources: 0 };
  const second = {
    ...first,
    number: 2,
    part: 'observations',
    untilKey: counted.endKey,
    resources: 777,
  };
  expect(await noteProgress(pool, one.exportId, dead, { kind: 'file', file: first })).toBe(true);
  expect(await noteProgress(pool, one.exportId, dead, { kind: 'file', file: second })).toBe(true);

  // Not while the other may still be alive.
  await work(START_MS + 29_000);
  expect(await listExportFiles(pool, one.exportId)).toEqual([first, second]);

  const files = await finish(one, START_MS + 31_000);
  expect(files.slice(0, 2)).toEqual([first, second]);
  expect(files.map(({ number }) => number)).toEqual(files.map((_, index) => index + 1));
  expect(files.length).toBeGreaterThan(5);
  const ids = await idsOf(one, files);
  expect(ids.sort()).toEqual(await readingIds());

  // Should it be alive after all, it is told that the export is no longer its own.
  expect(await noteProgress(pool, one.exportId, dead, { kind: 'at-work' })).toBe(false);
});

it('gives an export back in the middle when its process stops', async () => {
  const one = await start(null, ['code=59408-5', 'code=8867-4&date=lt2025-06-15T00:20:00Z']);
  await work(START_MS + 32_000);
  const files = await finish(one, START_MS + 32_000);
  const wanted =
    "vital = 'oxygen-saturation' or (vital = 'pulse-rate' and effective_at < '2025-06-15T00:20:00Z')";
  const expected = await readingIds(wanted);
  expect(expected.length).toBeGreaterThan(1_100);
  expect((await idsOf(one, files)).sort()).toEqual(expected);
});

it('walks patient by patient where patients are named, in files of the same kind', async () => {
  const one = await start([2, 3, 5, 7, 11, 13, 17, 19, 23, 29]);
  const files = await finish(one, START_MS + 33_000);
  expect(files.length).toBeGreaterThan(2);
  const expected = await readingIds('patient_key in (2, 3, 5, 7, 11, 13, 17, 19, 23, 29)');
  expect(expected).toHaveLength(1_000);
  expect((await idsOf(one, files)).sort()).toEqual(expected);
});

it('fails for good after some attempts, and says so', async () => {
  const one = await start(null, ['no-such-parameter=1']);
  const failures: unknown[] = [];
  for (let n = 0; n < 4; n += 1) failures.push(...(await work(START_MS + 34_000, 200)));
  expect(failures).toHaveLength(3);
  const found = await findExport(database.pool, one.exportId, 1, START_MS + 34_000);
  expect(found?.state).toBe('failed');
});
