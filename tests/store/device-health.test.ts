import { listDeviceHealth } from '../../src/store/device-health.js';
import { HourTally } from '../../src/store/hour-tally.js';
import { Names } from '../../src/store/names.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

const NOW_MS = Date.parse('2026-03-04T10:20:00Z');
const HOUR_MS = 60 * 60 * 1000;

let database: TestDatabase;
let names: Names;

beforeAll(async () => {
  database = await openTestDatabase();
  names = new Names(database.pool);
});
afterAll(() => database.close());

async function keyOf(value: string): Promise<number> {
  const device = { system: 'urn:example:device', value };
  await names.learnDevices([device]);
  return names.device(device) ?? 0;
}

describe('how devices do', () => {
  it('is counted by the hour, of two processes together, the most troubled first', async () => {
    let nowMs = NOW_MS - 3 * HOUR_MS;
    const clock = (): number => nowMs;
    const tallies = [1, 2].map(() => new HourTally(database.pool, 'device', clock));
    const [cuff, probe] = [await keyOf('BP-3'), await keyOf('OX-7')];
    tallies[0]?.count(cuff, ['accepted', 'rejected']);
    tallies[1]?.count(probe, ['accepted', 'held']);
    await Promise.all(tallies.map((tally) => tally.flush()));
    nowMs = NOW_MS;
    tallies[0]?.count(probe, ['noted']);
    tallies[1]?.count(probe, ['accepted']);
    await Promise.all(tallies.map((tally) => tally.flush()));

    const found = await listDeviceHealth(database.pool, NOW_MS, 10);
    expect(found).toMatchObject([
      {
        identifier: { value: 'BP-3' },
        registered: null,
        lastHeardMs: NOW_MS - 3 * HOUR_MS,
        lastTwoHours: 0,
        lastDay: { accepted: 1, noted: 0, held: 0, rejected: 1 },
      },
      {
        identifier: { value: 'OX-7' },
        lastHeardMs: NOW_MS,
        lastTwoHours: 2,
        lastDay: { accepted: 2, noted: 1, held: 1, rejected: 0 },
      },
    ]);
    expect(await listDeviceHealth(database.pool, NOW_MS, 1)).toHaveLength(1);
    const nextDay = await listDeviceHealth(database.pool, NOW_MS + 30 * HOUR_MS, 10);
    expect(nextDay.every(({ lastDay }) => lastDay.accepted + lastDay.rejected === 0)).toBe(true);
  });

  it('keeps what it could not write for the next time', async () => {
    const tally = new HourTally(database.pool, 'device', () => NOW_MS);
    tally.count(2_000_000_000, ['held']);
    await expect(tally.flush()).rejects.toThrow();
    tally.count(2_000_000_000, ['held']);
    await expect(tally.flush()).rejects.toThrow();
    await database.pool.query(
      `insert into devices (device_key, device_id, system, value) overriding system value
       values (2000000000, gen_random_uuid(), 'urn:example:device', 'LATE')`,
    );
    await tally.flush();
    const found = await listDeviceHealth(database.pool, NOW_MS, 10);
    const late = found.find(({ identifier }) => identifier.value === 'LATE');
    expect(late?.lastDay.held).toBe(2);
  });
});
