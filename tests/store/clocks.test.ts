import fc from 'fast-check';
import { Registry } from 'prom-client';
import { addDeviceClockGauge } from '../../src/serve/operations/device-clock-gauge.js';
import {
  listRegisteredClocks,
  noteDeviceClocks,
  readDeviceClock,
} from '../../src/store/device-clocks.js';
import { registerDevice } from '../../src/store/devices.js';
import { addClient } from '../../src/store/clients.js';
import { Names } from '../../src/store/names.js';
import { readSourceClocks, SourceClocks } from '../../src/store/source-clocks.js';
import type { Identifier } from '../../src/vitals/shapes.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

const NOW = Date.parse('2026-05-04T09:00:00Z');

let database: TestDatabase;
let names: Names;

beforeAll(async () => {
  database = await openTestDatabase();
  names = new Names(database.pool);
});
afterAll(() => database.close());

async function source(name: string): Promise<number> {
  const { rows } = await database.pool.query<{ source_key: number }>(
    'insert into sources (name, attended) values ($1, false) returning source_key',
    [name],
  );
  return rows[0]?.source_key ?? 0;
}

describe('the clock of a source', () => {
  it('is told by the greatest skew of its last twenty messages: a delay makes it smaller', async () => {
    const key = await source('delayed');
    const clocks = new SourceClocks(database.pool);
    expect(await clocks.note(key, -9_000, NOW)).toBe(-9_000);
    expect(await clocks.note(key, 3_000, NOW)).toBe(3_000);
    for (let message = 0; message < 19; message += 1) {
      expect(await clocks.note(key, -60_000, NOW)).toBe(3_000);
    }
    expect(await clocks.note(key, -60_000, NOW + 1000)).toBe(-60_000);
  });

  it('is shared by processes, and goes on after a restart', async () => {
    const key = await source('shared');
    const [one, two] = [new SourceClocks(database.pool), new SourceClocks(database.pool)];
    await one.note(key, 1_000, NOW);
    await two.note(key, 2_000, NOW + 5);
    await Promise.all([one.flush(), two.flush()]);
    expect((await readSourceClocks(database.pool)).get(key)).toEqual({
      skewMs: 2_000,
      seenAtMs: NOW + 5,
    });
    expect(await new SourceClocks(database.pool).note(key, 500, NOW)).toBe(2_000);
    // The first to write knows what the second wrote once it has written again.
    await one.note(key, 10, NOW);
    await one.flush();
    expect(await one.note(key, 10, NOW)).toBe(2_000);
  });

  it('is the greatest of the last twenty whatever is noted and whenever it is written', async () => {
    let sources = 0;
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.oneof(fc.integer({ min: -100_000, max: 100_000 }), fc.constant('flush')), {
          maxLength: 60,
        }),
        async (steps) => {
          sources += 1;
          const key = await source(`property ${sources}`);
          const clocks = new SourceClocks(database.pool);
          const all: number[] = [];
          for (const step of steps) {
            if (typeof step === 'string') await clocks.flush();
            else {
              all.push(step);
              expect(await clocks.note(key, step, NOW)).toBe(Math.max(...all.slice(-20)));
            }
          }
          await clocks.flush();
          const { rows } = await database.pool.query<{ skews_ms: string[] }>(
            'select skews_ms from source_clocks where source_key = $1',
            [key],
          );
          expect((rows[0]?.skews_ms ?? []).map(Number)).toEqual(all.slice(-20));
        },
      ),
      { numRuns: 25 },
    );
  });

  it('keeps what could not be written, and takes any time that can be told', async () => {
    const key = await source('away');
    const clocks = new SourceClocks(database.pool);
    await clocks.note(key, Date.parse('0001-01-01T00:00:00Z') - NOW, NOW);
    await clocks.note(key, -8.64e15, NOW);
    await database.pool.query('alter table source_clocks rename to hidden');
    await expect(clocks.flush()).rejects.toThrow('source_clocks');
    await database.pool.query('alter table hidden rename to source_clocks');
    await clocks.flush();
    const { rows } = await database.pool.query<{ count: number }>(
      'select cardinality(skews_ms) as count from source_clocks where source_key = $1',
      [key],
    );
    expect(rows).toEqual([{ count: 2 }]);
  });
});

describe('the clock of a device', () => {
  const device = (value: string): Identifier => ({ system: 'urn:example:device', value });
  const pair = (value: string, aheadMs: number, trueMs: number) => ({
    device: device(value),
    deviceMs: trueMs + aheadMs,
    trueMs,
  });

  it('is the newest pair that told both times', async () => {
    const { pool } = database;
    expect(await readDeviceClock(pool, device('C-1'))).toBeNull();
    await noteDeviceClocks(pool, names, [pair('C-1', 90_000, NOW), pair('C-2', -500, NOW)], NOW);
    await noteDeviceClocks(
      pool,
      names,
      [pair('C-1', 30_000, NOW + 2000), pair('C-1', 60_000, NOW + 1000)],
      NOW + 3000,
    );
    await noteDeviceClocks(pool, names, [pair('C-1', 10, NOW - 5000)], NOW + 4000);
    expect(await readDeviceClock(pool, device('C-1'))).toEqual({
      offsetMs: 30_000,
      seenAtMs: NOW + 2000,
    });
    expect(await readDeviceClock(pool, device('C-2'))).toEqual({ offsetMs: -500, seenAtMs: NOW });
    await noteDeviceClocks(pool, names, [], NOW);
  });

  it('is not stuck at a time that is still to come', async () => {
    const { pool } = database;
    const future = Date.parse('9999-01-01T00:00:00Z');
    await noteDeviceClocks(pool, names, [pair('C-3', 7_000, future)], NOW);
    await noteDeviceClocks(pool, names, [pair('C-3', 1_000, NOW + 1)], NOW + 1);
    expect(await readDeviceClock(pool, device('C-3'))).toEqual({
      offsetMs: 1_000,
      seenAtMs: NOW + 1,
    });
  });

  it('is a figure of each registered device in use, and of no other', async () => {
    const { pool } = database;
    const admin = { name: 'office', attended: true };
    await addClient(pool, { name: 'admin', scopes: ['admin'], source: admin });
    const settings = {
      ...{ display: null, type: null, location: null, signs: null, attended: null, worn: false },
      ...{ zone: null, timeAccuracyMs: null, accuracy: {}, disabled: false },
    };
    await registerDevice(pool, names, { clientKey: 1, personKey: null }, device('C-1'), settings);
    await registerDevice(pool, names, { clientKey: 1, personKey: null }, device('C-2'), {
      ...settings,
      disabled: true,
    });
    await registerDevice(pool, names, { clientKey: 1, personKey: null }, device('C-9'), settings);
    const registry = new Registry();
    addDeviceClockGauge(registry, () => listRegisteredClocks(pool, 10));
    const lines = (await registry.metrics())
      .split('\n')
      .filter((line) => line.startsWith('gateway_device'));
    expect(lines).toEqual([
      expect.stringMatching(
        /^gateway_device_clock_ahead_seconds\{device="[0-9a-f-]{36}",identifier="urn:example:device\|C-1"\} 30$/,
      ),
    ]);
  });

  it('leaves the other figures alone when the database is away', async () => {
    const registry = new Registry();
    addDeviceClockGauge(registry, () => Promise.reject(new Error('away')));
    expect(await registry.metrics()).toContain('# TYPE gateway_device_clock_ahead_seconds gauge');
  });
});
