import { inflateRawSync } from 'node:zlib';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway, Told } from '../../setup/gateway.js';
import { faultsOf } from '../review/review-desk.js';

interface Part {
  readonly part: string;
  readonly setValue: number;
  readonly read: number;
  readonly difference: number;
  readonly differencePercent: number;
  readonly tolerance: {
    readonly percent?: number;
    readonly amount?: number;
    readonly source: string;
  };
  readonly passed: boolean;
}
interface Check {
  readonly check: string;
  readonly passed: boolean;
  readonly parts: readonly Part[];
  readonly takenAt: string;
  readonly person: unknown;
  readonly device: unknown;
  readonly errors?: readonly { readonly pointer: string; readonly message: string }[];
}

const CUFF = { identifier: { system: 'urn:example:device', value: 'BP-12' } };
const NURSE = { identifier: { system: 'urn:example:staff', value: 'N-204' } };

let gateway: TestGateway;
let sender: string;
let reader: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await gateway.token('sets.write');
  reader = await gateway.token('rules.read people.read');
});
afterAll(() => gateway.close());

const pressureOf = (systolic: number, diastolic: number, more: object = {}): object => ({
  vital: 'blood-pressure',
  method: 'oscillometry',
  systolic,
  diastolic,
  unit: 'mm[Hg]',
  device: CUFF,
  ...more,
});
const send = (body: object): Promise<Told<Check>> =>
  gateway.ask<Check>('/reference-checks', { body, token: sender });
const check = (systolic: number, diastolic: number, more: object = {}): Promise<Told<Check>> =>
  send({
    kind: 'practice-arm',
    reading: pressureOf(systolic, diastolic),
    setValue: { systolic: 120, diastolic: 80, unit: 'mm[Hg]' },
    recorder: NURSE,
    ...more,
  });
const passes = ({ body }: Told<Check>): boolean[] => body.parts.map(({ passed }) => passed);

describe('a reading against a known pressure', () => {
  // 10 % of 120 is 12, of 80 is 8: common practice, no source.
  it('passes up to 10 % on either side, part by part', async () => {
    const exact = await check(132, 72);
    expect(exact.status).toBe(201);
    expect(faultsOf('reference-result:1', { ...exact.body, person: null })).toEqual([]);
    expect(exact.body).toMatchObject({
      passed: true,
      parts: [
        {
          part: 'systolic',
          setValue: 120,
          read: 132,
          difference: 12,
          differencePercent: 10,
          tolerance: { percent: 10, source: 'Common practice, no source' },
          passed: true,
        },
        { part: 'diastolic', difference: -8, differencePercent: -10, passed: true },
      ],
    });
    expect(passes(await check(133, 72))).toEqual([false, true]);
    expect(passes(await check(132, 71))).toEqual([true, false]);
    expect((await check(107, 89)).body.passed).toBe(false);
  });

  it('is compared in one unit, whatever each was told in', async () => {
    // 16 kPa are 120.0 mmHg (1 mmHg = 133.3224 Pa: NIST SP 811, appendix B.8).
    const kilopascal = await check(131, 79, { setValue: { systolic: 16, unit: 'kPa' } });
    expect(kilopascal.body.parts).toMatchObject([{ part: 'systolic', read: 131, passed: true }]);
    expect(kilopascal.body.parts[0]?.setValue).toBeCloseTo(120.01, 1);
  });

  it('takes a tolerance of its own', async () => {
    expect(passes(await check(126, 80, { tolerance: { percent: 4 } }))).toEqual([false, true]);
    expect(passes(await check(126, 80, { tolerance: { amount: 6 } }))).toEqual([true, true]);
    const pulse = {
      kind: 'simulator',
      reading: { vital: 'pulse-rate', method: 'pulse-oximetry', value: 79, unit: '/min' },
      setValue: { value: 80 },
    };
    expect((await send({ ...pulse, tolerance: { amount: 2 } })).body.passed).toBe(true);
    const without = await send(pulse);
    expect([without.status, without.body.errors?.[0]?.message]).toEqual([
      400,
      '"tolerance" is missing: the site has set none for value',
    ]);
  });

  it('names what it cannot compare, and keeps it all the same', async () => {
    const refused = await check(120, 80, {
      setValue: { value: 3, systolic: 0, unit: 'mm[Hg]' },
      tolerance: { percent: 5, amount: 5 },
      kind: 'guess',
    });
    expect(refused.status).toBe(400);
    expect(refused.body.errors?.map(({ pointer }) => pointer)).toEqual(['/kind']);
    const parts = await check(120, 80, { setValue: { value: 3, systolic: 0 } });
    expect(parts.body.errors?.map(({ pointer }) => pointer)).toContain('/setValue/systolic');
    const twofold = await check(120, 80, { tolerance: { percent: 5, amount: 5 }, setValue: {} });
    expect(twofold.status).toBe(400);
    const unit = await check(120, 80, { setValue: { systolic: 120, unit: 'inHg' } });
    expect(unit.body.errors?.[0]?.pointer).toBe('/setValue/unit');
    const { rows } = await gateway.database.pool.query<{ body: Buffer }>(
      `select body from submissions where kind = 'reference-check' and status = 400
        order by submission_id desc limit 1`,
    );
    expect(inflateRawSync(rows[0]?.body ?? Buffer.alloc(0)).toString()).toContain('inHg');
  });

  it('is nobody’s chart', async () => {
    await check(121, 81);
    const { pool } = gateway.database;
    const { rows } = await pool.query('select (select count(*) from readings) as readings');
    expect(rows).toEqual([{ readings: 0 }]);
    const kept = await pool.query<{ patient_key: number | null; holds_key: boolean }>(
      "select distinct patient_key, holds_key from submissions where kind = 'reference-check'",
    );
    expect(kept.rows).toEqual([{ patient_key: null, holds_key: false }]);
  });

  it('needs the scope of a sender', async () => {
    const refused = await gateway.ask('/reference-checks', { body: {}, token: reader });
    expect(refused.status).toBe(403);
  });
});

describe('looking back', () => {
  const device = 'urn:example:device|BP-77';
  const own = { identifier: { system: 'urn:example:device', value: 'BP-77' } };
  const list = (query: string, token = reader) =>
    gateway.ask<{ checks: Check[]; detail: string }>(`/reference-checks${query}`, { token });

  beforeAll(async () => {
    for (const [day, systolic] of [
      ['02', 124],
      ['01', 121],
      ['03', 135],
    ] as const) {
      await check(systolic, 80, {
        takenAt: `2026-05-${day}T09:00:00+02:00`,
        reading: pressureOf(systolic, 80, { device: own }),
      });
    }
  });

  it('lists by device, the newest first', async () => {
    const { body } = await list(`?device=${encodeURIComponent(device)}`);
    expect(body.checks.map(({ takenAt }) => takenAt)).toEqual([
      '2026-05-03T07:00:00.000Z',
      '2026-05-02T07:00:00.000Z',
      '2026-05-01T07:00:00.000Z',
    ]);
    for (const one of body.checks) expect(faultsOf('reference-result:1', one)).toEqual([]);
    const may2 = await list(
      `?device=${encodeURIComponent(device)}&takenFrom=2026-05-02T00:00:00Z&takenTo=2026-05-03T00:00:00Z`,
    );
    expect(may2.body.checks).toHaveLength(1);
  });

  it('shows the trend in the order of time, with the differences', async () => {
    const { body } = await gateway.ask<{
      lines: { vital: string; part: string; points: { difference: number; passed: boolean }[] }[];
    }>(`/reference-checks/trend?device=${encodeURIComponent(device)}`, { token: reader });
    expect(body.lines.map(({ part }) => part)).toEqual(['systolic', 'diastolic']);
    expect(body.lines[0]?.points.map(({ difference, passed }) => [difference, passed])).toEqual([
      [1, true],
      [4, true],
      [15, false],
    ]);
  });

  it('by person is for those who may see people', async () => {
    const person = encodeURIComponent('urn:example:staff|N-204');
    const named = await list(`?person=${person}&limit=1`);
    expect(named.body.checks[0]?.person).toEqual(NURSE.identifier);
    const analyst = await gateway.token('review.read');
    const refused = await list(`?person=${person}`, analyst);
    expect([refused.status, refused.body.detail]).toEqual([
      403,
      'Figures by person need the scope people.read, unless they are your own.',
    ]);
    const veiled = await list(`?device=${encodeURIComponent(device)}`, analyst);
    const people = veiled.body.checks.map((one) => JSON.stringify(one.person));
    expect(new Set(people).size).toBe(1);
    expect(people[0]).toMatch(/^\{"pseudonym":"person-[0-9a-f]{12}"\}$/);
  });
});
