import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import {
  minutesAgo,
  MRN,
  oxygen,
  pressure,
  registerPatient,
  setOf,
} from '../setup/example-sets.js';
import type { SetAnswer, SetBody, TestPatient } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway, Told } from '../setup/gateway.js';

/** One reading that comes by two roads: two sources, and two processes on one database. */
let one: TestGateway;
let other: { gateway: Gateway; pool: Pool; url: string };
let tablet: string;
let engine: string;

beforeAll(async () => {
  one = await openTestGateway({ PUBLIC_URL: 'http://127.0.0.1:1' });
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const config = readConfig({
    PORT: '0',
    DATABASE_URL: databaseUrl,
    PUBLIC_URL: 'http://127.0.0.1:1',
  });
  const gateway = createGateway(config, pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  other = { gateway, pool, url: `http://127.0.0.1:${port}` };
  tablet = await one.token('sets.write', { name: 'tablets', attended: true });
  engine = await one.token('sets.write', { name: 'engine', attended: true });
});
afterAll(async () => {
  await other.gateway.stop();
  await other.pool.end();
  await one.close();
});

type Answer = SetAnswer & {
  readonly readings: readonly (SetAnswer['readings'][number] & { receivedBefore?: true })[];
};

const send = (body: SetBody, token: string): Promise<Told<Answer>> =>
  one.ask<Answer>('/sets', { body, token });
const stored = async (body: SetBody, token: string): Promise<Answer> =>
  (await one.ask<Answer>(`/sets/${body.setId}`, { token })).body;

/** How many Observations of the patient there are. */
async function observations({ number }: TestPatient): Promise<number> {
  const { rows } = await one.database.pool.query<{ n: number }>(
    `select count(*)::int as n
       from readings r join patient_identifiers i on i.patient_key = r.patient_key
      where i.system = $1 and i.value = $2 and r.superseded is null and r.status is not null`,
    [MRN, number],
  );
  return rows[0]?.n ?? 0;
}

const device = (value: string) => ({
  device: { identifier: { system: 'urn:example:device', value } },
});

/** The set again under a key of its own, changed. */
const again = (
  patient: TestPatient,
  set: SetBody,
  readings: readonly Readonly<Record<string, unknown>>[] = set.readings,
  more: Readonly<Record<string, unknown>> = {},
): SetBody => setOf(patient, readings, { takenAt: set.takenAt, ...more });

const decide = (set: SetBody, index: number, decision: unknown, token: string) =>
  one.ask<Answer>(`/sets/${set.setId}/readings/${String(index)}/decisions`, {
    body: decision,
    token,
  });

describe('the same reading by two roads', () => {
  it('is kept once, and both submissions lead to it', async () => {
    const patient = await registerPatient(one, 'LF-37001');
    const first = setOf(patient, [{ ...oxygen(95), ...device('OX-21') }]);
    const second = again(patient, first);
    const kept = await send(first, tablet);
    const linked = await send(second, engine);
    expect([kept.status, linked.status]).toEqual([201, 201]);
    expect(kept.body.readings[0]).not.toHaveProperty('receivedBefore');
    expect(linked.body.readings).toEqual([{ ...kept.body.readings[0], receivedBefore: true }]);
    expect(linked.body.submission).not.toBe(kept.body.submission);
    expect(await stored(second, engine)).toEqual(linked.body);
    expect(await stored(first, tablet)).toEqual(kept.body);
    expect(await observations(patient)).toBe(1);
    // The same set from the second road again: its first answer.
    expect((await send(second, engine)).text).toBe(linked.text);
  });

  it('leaves what is new in the second set to be judged beside it', async () => {
    const patient = await registerPatient(one, 'LF-37002');
    const first = setOf(patient, [pressure('auscultation', 118, 76)]);
    const byHand = await send(first, tablet);
    const second = again(patient, first, [...first.readings, pressure('oscillometry', 151, 92)]);
    const both = await send(second, engine);
    expect(both.body.verdict).toBe('held');
    expect(both.body.readings.map((each) => [each.index, each.verdict])).toEqual([
      [0, 'accepted'],
      [1, 'held'],
    ]);
    expect(both.body.readings[0]?.reading).toBe(byHand.body.readings[0]?.reading);
    expect(both.body.findings[0]).toMatchObject({
      rule: 'blood-pressure-methods-disagree',
      readings: [1],
    });
    const now = await stored(second, engine);
    expect(now.readings.map((each) => each.index)).toEqual([0, 1]);
    expect(now.readings[0]?.receivedBefore).toBe(true);
    expect(now.readings[1]).not.toHaveProperty('receivedBefore');
  });

  it('confirms nothing: what is held stays held', async () => {
    const patient = await registerPatient(one, 'LF-37003');
    const first = setOf(patient, [pressure('oscillometry', 262, 140)]);
    const held = await send(first, tablet);
    const linked = await send(again(patient, first), engine);
    expect([held.body.verdict, linked.body.verdict]).toEqual(['held', 'held']);
    expect(linked.body.readings[0]?.reading).toBe(held.body.readings[0]?.reading);
    expect(linked.body.findings.map((each) => each.rule)).toEqual(
      held.body.findings.map((each) => each.rule),
    );
    const confirmed = again(patient, first, [
      pressure('oscillometry', 262, 140, { confirmed: true }),
    ]);
    const measuredAgain = await send(confirmed, engine);
    expect(measuredAgain.body.readings[0]).not.toHaveProperty('receivedBefore');
  });

  it('of one set sent at once by two roads in two processes is one reading', async () => {
    for (let round = 0; round < 15; round += 1) {
      const patient = await registerPatient(one, `LF-371${String(10 + round)}`);
      const first = setOf(patient, [oxygen(96), pressure('oscillometry', 126, 78)]);
      const [a, b] = await Promise.all([
        askAt<Answer>(`${one.url}/sets`, { body: first, token: tablet }),
        askAt<Answer>(`${other.url}/sets`, { body: again(patient, first), token: engine }),
      ]);
      const ids = ({ body }: Told<Answer>) => body.readings.map((each) => each.reading);
      expect(ids(a)).toEqual(ids(b));
      expect(await observations(patient)).toBe(2);
    }
  });

  it('of one batch is one reading, too', async () => {
    const patient = await registerPatient(one, 'LF-37005');
    const first = setOf(patient, [oxygen(96)]);
    const answers = await Promise.all(
      Array.from({ length: 8 }, () => send(again(patient, first), engine)),
    );
    expect(new Set(answers.map(({ body }) => body.readings[0]?.reading)).size).toBe(1);
    expect(await observations(patient)).toBe(1);
  });
});

describe('anything less is two readings', () => {
  it.each<[string, Record<string, unknown>, Record<string, unknown>]>([
    ['another second', {}, { takenAt: minutesAgo(1.5) }],
    ['another value', { value: 94 }, {}],
    ['another device', device('OX-31'), {}],
    ['no device', { device: undefined }, {}],
    ['another site', { site: 'ear' }, {}],
    ['another side', { side: 'left' }, {}],
  ])('%s', async (name, changes, more) => {
    const patient = await registerPatient(one, `LF-372 ${name}`);
    const reading = { ...oxygen(95), ...device('OX-30') };
    const first = setOf(patient, [reading]);
    await send(first, tablet);
    const second = await send(again(patient, first, [{ ...reading, ...changes }], more), engine);
    expect(second.body.readings[0]).not.toHaveProperty('receivedBefore');
    expect(await observations(patient)).toBe(2);
  });

  it('another unit, though it comes to the same', async () => {
    const patient = await registerPatient(one, 'LF-37301');
    const oral = { vital: 'body-temperature', site: 'oral' };
    const first = setOf(patient, [{ ...oral, value: 37, unit: 'Cel' }]);
    await send(first, tablet);
    await send(again(patient, first, [{ ...oral, value: 98.6, unit: '[degF]' }]), engine);
    await send(again(patient, first, [{ ...oral, value: '37.0', unit: 'Cel' }]), engine);
    expect(await observations(patient)).toBe(3);
    // As it was typed: known again.
    await send(again(patient, first, [{ ...oral, value: 98.6, unit: '[degF]' }]), tablet);
    expect(await observations(patient)).toBe(3);
  });

  it('a rate and the count behind it', async () => {
    const patient = await registerPatient(one, 'LF-37302');
    const counted = { vital: 'respiratory-rate', method: 'counted' };
    const first = setOf(patient, [{ ...counted, count: 8, seconds: 30 }]);
    await send(first, tablet);
    await send(again(patient, first, [{ ...counted, value: 16, unit: '/min' }]), engine);
    await send(again(patient, first), engine);
    expect(await observations(patient)).toBe(2);
  });

  it('two alike in one set', async () => {
    const patient = await registerPatient(one, 'LF-37303');
    const first = setOf(patient, [oxygen(97), oxygen(97)]);
    const kept = await send(first, tablet);
    const linked = await send(again(patient, first), engine);
    const ids = ({ body }: Told<Answer>) => body.readings.map((each) => each.reading);
    expect(new Set(ids(kept)).size).toBe(2);
    expect(ids(linked)).toEqual(ids(kept));
  });

  it('where it is in doubt whose they are', async () => {
    const patient: TestPatient = { number: 'LF-37304', birthDate: '1970-01-01' };
    const first = setOf(patient, [oxygen(97)]);
    const unknown = [await send(first, tablet), await send(again(patient, first), engine)];
    expect(new Set(unknown.map(({ body }) => body.readings[0]?.reading)).size).toBe(2);
    const registered = await registerPatient(one, 'LF-37305');
    const sound = setOf(registered, [oxygen(97)]);
    const kept = await send(sound, tablet);
    const mistaken = await send(again({ ...registered, birthDate: '1971-12-31' }, sound), engine);
    expect(mistaken.body.readings[0]).toMatchObject({ verdict: 'held' });
    expect(mistaken.body.readings[0]?.reading).not.toBe(kept.body.readings[0]?.reading);
  });
});

describe('a reading of two sets', () => {
  const correction = (expectedVersion: number) => ({
    action: 'correct',
    reason: 'Read again from the display.',
    reasonCode: 'entry-error',
    expectedVersion,
    reading: oxygen(93),
  });

  it('is corrected for both, and its late copy is still the same reading', async () => {
    const patient = await registerPatient(one, 'LF-37401');
    const first = setOf(patient, [oxygen(39 + 50)]);
    await send(first, tablet);
    const second = again(patient, first);
    await send(second, engine);
    const since = new Date().toISOString();
    expect((await decide(first, 0, correction(1), tablet)).status).toBe(200);
    expect((await stored(second, engine)).readings[0]).toMatchObject({ value: 93, version: 2 });
    const changed = await one.ask<{ sets: SetAnswer[] }>(
      `/sets?changedSince=${encodeURIComponent(since)}`,
      { token: engine },
    );
    expect(changed.body.sets.map((each) => each.setId)).toContain(second.setId);
    const late = await send(again(patient, first), engine);
    expect(late.body.readings[0]).toMatchObject({ value: 93, receivedBefore: true });
    expect(await observations(patient)).toBe(1);
  });

  it('can be withdrawn by either source, by no other; sent again it is new', async () => {
    const patient = await registerPatient(one, 'LF-37402');
    const first = setOf(patient, [oxygen(97)]);
    await send(first, tablet);
    const second = again(patient, first);
    await send(second, engine);
    const withdrawal = {
      action: 'withdraw',
      reason: 'The probe was not on the finger.',
      reasonCode: 'poor-signal',
      expectedVersion: 1,
    };
    const stranger = await one.token('sets.write', { name: 'stranger', attended: true });
    expect((await decide(second, 0, withdrawal, stranger)).status).toBe(404);
    expect((await decide(second, 0, withdrawal, engine)).status).toBe(200);
    expect((await stored(first, tablet)).readings[0]).toMatchObject({ version: 2 });
    const fresh = await send(again(patient, first), engine);
    expect(fresh.body.readings[0]).not.toHaveProperty('receivedBefore');
  });
});
