import {
  findComparedPairs,
  type FoundPairs,
  type PairSearch,
} from '../../src/store/agreement-pairs.js';
import { findSetsAsWritten, findWrittenReadings } from '../../src/store/written-readings.js';
import { openTestGateway, type TestGateway } from '../setup/gateway.js';
import { registerPatient, setOf, type TestPatient } from '../setup/example-sets.js';

const STAFF = { system: 'urn:example:staff', value: 'N-871' };
const MINUTE_MS = 60_000;
const NOW_MS = Date.now();

let gateway: TestGateway;
let sender: string;
let reviewer: string;
let patient: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await gateway.token('sets.write');
  reviewer = await gateway.token('review.read review.write');
});
beforeEach(async () => {
  await gateway.database.pool.query('truncate readings');
  patient = await registerPatient(gateway, `AG-${String(Math.random())}`);
});
afterAll(() => gateway.close());

interface SentReading {
  readonly reading: string;
  readonly verdict: string;
}

const at = (minutesAgo: number): string =>
  new Date(NOW_MS - minutesAgo * MINUTE_MS).toISOString().replace(/\.\d+Z$/, '+00:00');
const byEar = (systolic: number, diastolic = 80, more = {}): Record<string, unknown> => ({
  ...{ vital: 'blood-pressure', method: 'auscultation', site: 'upper-arm', side: 'left' },
  ...{ systolic, diastolic, unit: 'mm[Hg]', ...more },
});
const byCuff = (systolic: number, diastolic = 80, more = {}): Record<string, unknown> =>
  byEar(systolic, diastolic, { method: 'oscillometry', ...more });
const ofDevice = (value: string): Record<string, unknown> => ({
  device: { identifier: { system: 'urn:example:device', value } },
});

async function send(
  readings: readonly Record<string, unknown>[],
  minutesAgo: number,
  more: Record<string, unknown> = {},
): Promise<SentReading[]> {
  const body = setOf(patient, readings, {
    takenAt: at(minutesAgo),
    recorder: { identifier: STAFF },
    location: 'fernbank/3',
    ...more,
  });
  const { body: answer } = await gateway.ask<{ readings: SentReading[] }>('/sets', {
    token: sender,
    body,
  });
  return answer.readings;
}

const find = (more: Partial<PairSearch> = {}): Promise<FoundPairs> =>
  findComparedPairs(gateway.database.pool, {
    sign: 'blood-pressure',
    fromMs: NOW_MS - 24 * 60 * MINUTE_MS,
    toMs: NOW_MS + MINUTE_MS,
    windowMs: 5 * MINUTE_MS,
    ...more,
  });
const systolics = ({ pairs }: FoundPairs): (number | null)[][] =>
  pairs.map(({ byHand, byDevice }) => [byHand.systolic, byDevice.systolic]);

async function decide(reading: string, action: string, version = 1): Promise<void> {
  const { status, text } = await gateway.ask(`/review/readings/${reading}/decisions`, {
    token: reviewer,
    body: { action, reason: 'looked at again', reasonCode: 'other', expectedVersion: version },
  });
  if (status !== 200) throw new Error(text);
}

describe('pairs', () => {
  it('are of one set, with their device, ward and person', async () => {
    await send([byEar(120), byCuff(127, 84, ofDevice('BP-7'))], 30);
    const found = await find();
    expect(systolics(found)).toEqual([[120, 127]]);
    expect(found.pairs[0]).toMatchObject({
      device: { value: 'BP-7' },
      ward: 'fernbank',
      person: STAFF,
      byDevice: { diastolic: 84, verdict: 'accepted' },
    });
    expect(found.onlySinceMs).toBeNull();
  });

  it('are also of two sets up to five minutes apart, the nearest', async () => {
    await send([byCuff(131)], 34);
    await send([byEar(122)], 30);
    await send([byCuff(125)], 27);
    expect(systolics(await find())).toEqual([[122, 125]]);
    await send([byEar(140)], 200);
    await send([byCuff(141)], 194);
    expect(systolics(await find())).toEqual([[122, 125]]);
  });

  it('prefer the same set, and never use one reading by a device twice', async () => {
    await send([byEar(118)], 31);
    await send([byEar(120), byCuff(126)], 30);
    expect(systolics(await find())).toEqual([[120, 126]]);
  });

  it('are not of two arms', async () => {
    await send([byEar(120), byCuff(126, 80, { side: 'right' })], 30);
    expect((await find()).pairs).toEqual([]);
  });

  it('are never of two patients', async () => {
    await send([byEar(120)], 30);
    patient = await registerPatient(gateway, `AG-${String(Math.random())}`);
    await send([byCuff(126)], 30);
    expect((await find()).pairs).toEqual([]);
  });

  it('come along when held: what contradicts itself is what is looked for', async () => {
    const sent = await send([byEar(120), byCuff(165)], 30);
    expect(sent.map(({ verdict }) => verdict)).toEqual(['held', 'held']);
    const [pair] = (await find()).pairs;
    expect(pair?.byDevice).toMatchObject({ systolic: 165, verdict: 'held', hold: 'value' });
  });

  it('tell whether a person rejected a side, and what the rules alone rejected', async () => {
    const [, automatic] = await send([byEar(120), byCuff(165)], 30);
    await decide(automatic?.reading ?? '', 'reject');
    await send([byEar(120), byCuff(1108)], 60);
    const [refused, taken] = (await find()).pairs;
    expect(taken?.byDevice).toMatchObject({ systolic: 165, rejectedByPerson: true });
    expect(refused?.byDevice).toMatchObject({ systolic: 1108, rejectedByPerson: false });
  });

  it('stand with the corrected value, and tell of what was withdrawn', async () => {
    const [manual] = await send([byEar(120), byCuff(126)], 30);
    await decide(manual?.reading ?? '', 'withdraw');
    const [pair] = (await find()).pairs;
    expect(pair?.byHand.status).toBe('entered-in-error');
  });

  it('can be asked of one device, one ward or one person', async () => {
    await send([byEar(120), byCuff(126, 80, ofDevice('BP-7'))], 30);
    await send([byEar(130), byCuff(131, 80, ofDevice('BP-6'))], 60, { location: 'larch/1' });
    const device = { system: 'urn:example:device', value: 'BP-6' };
    expect(systolics(await find({ device }))).toEqual([[130, 131]]);
    expect(systolics(await find({ place: 'fernbank' }))).toEqual([[120, 126]]);
    expect(systolics(await find({ place: 'fern' }))).toEqual([]);
    const { personId } = (await find()).pairs[0] ?? {};
    expect((await find({ personId: personId ?? undefined })).pairs).toHaveLength(2);
    expect((await find({ personId: '00000000-0000-4000-8000-000000000000' })).pairs).toEqual([]);
  });

  it('are also of the pulse, by touch and by oximeter', async () => {
    const palpated = { vital: 'pulse-rate', method: 'palpation', site: 'radial-artery' };
    const shown = { vital: 'pulse-rate', method: 'pulse-oximetry', value: 74, unit: '/min' };
    await send([{ ...palpated, count: 36, seconds: 30, regular: true }, shown], 30);
    const { pairs } = await find({ sign: 'pulse-rate' });
    expect(pairs.map(({ byHand, byDevice }) => [byHand.rate, byDevice.rate])).toEqual([[72, 74]]);
  });

  it('end at a limit and say so, by an index that holds only what was measured by hand', async () => {
    await gateway.database.pool.query(
      `insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id, source_key,
         vital, method, verdict, version, edition, offset_minutes, systolic)
       select p.patient_key, 1, now() - i * interval '1 second', now(), gen_random_uuid(), 1,
         'blood-pressure', 'auscultation', 'accepted', 1, 1, 0, 120
         from (select min(patient_key) as patient_key from patients) p, generate_series(1, 20001) i`,
    );
    const { pairs, onlySinceMs } = await find();
    expect(pairs).toEqual([]);
    expect(onlySinceMs).toBeGreaterThan(Date.now() - 20_100_000);
    await gateway.database.pool.query('analyze readings');
    const { rows } = await gateway.database.pool.query<{ 'QUERY PLAN': string }>(
      `explain select reading_id from readings
        where superseded is null and method = 'auscultation' and vital = 'blood-pressure'
          and effective_at >= '2026-01-01' order by effective_at desc limit 100`,
    );
    expect(rows.map((row) => row['QUERY PLAN']).join('\n')).toContain('readings_by_hand');
  });
});

describe('what people wrote', () => {
  const search = { fromMs: NOW_MS - 24 * 60 * MINUTE_MS, toMs: NOW_MS + MINUTE_MS };

  it('is told with the count and the delay, also when rejected, and not what devices sent', async () => {
    const breaths = { vital: 'respiratory-rate', method: 'counted', count: 9, seconds: 30 };
    await send([breaths, byEar(1108), byCuff(128)], 30);
    await send([byEar(120)], 20, { recorder: undefined });
    const { rows, onlySinceMs } = await findWrittenReadings(gateway.database.pool, search);
    expect(onlySinceMs).toBeNull();
    expect(rows).toHaveLength(2);
    const found = rows.find(({ vital }) => vital === 'respiratory-rate');
    expect(found).toMatchObject({
      rate: 18,
      entered: { count: 9, seconds: 30 },
      person: STAFF,
      ward: 'fernbank',
    });
    const delayMs = (found?.receivedAtMs ?? 0) - (found?.takenAtMs ?? 0);
    expect(delayMs).toBeGreaterThan(29 * MINUTE_MS);
  });

  it('is one row a set, with the numbers by sign and method', async () => {
    const breaths = { vital: 'respiratory-rate', method: 'counted', count: 9, seconds: 30 };
    await send([breaths, byEar(122, 78), byCuff(128, 81)], 30);
    await send([{ ...breaths, count: 8 }], 90);
    const { rows } = await findSetsAsWritten(gateway.database.pool, search);
    expect(rows.map(({ numbers }) => numbers)).toEqual([
      {
        'respiratory-rate counted': '18',
        'blood-pressure auscultation': '122/78',
        'blood-pressure oscillometry': '128/81',
      },
      { 'respiratory-rate counted': '16' },
    ]);
  });
});
