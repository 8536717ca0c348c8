import { createHash, randomUUID } from 'node:crypto';
import { inflateRawSync } from 'node:zlib';
import { minutesAgo, oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

let gateway: TestGateway;
let token: string;
let patient: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  token = await gateway.token('sets.write sets.check');
  patient = await registerPatient(gateway, 'LF-31001');
});
afterAll(() => gateway.close());

const send = (body: unknown) => gateway.ask<SetAnswer>('/sets', { body, token });

async function kept(): Promise<
  { status: number; body: string; sha256: Buffer; holds_key: boolean }[]
> {
  const { rows } = await gateway.database.pool.query<{
    status: number;
    body: Buffer;
    sha256: Buffer;
    holds_key: boolean;
  }>('select status, body, sha256, holds_key from submissions order by received_at, submission_id');
  return rows.map((row) => ({ ...row, body: inflateRawSync(row.body).toString() }));
}

describe('a set', () => {
  it('is counted, converted, judged and answered reading by reading', async () => {
    const answer = await send(
      setOf(patient, [
        { vital: 'respiratory-rate', method: 'counted', count: 8, seconds: 30 },
        { vital: 'pulse-rate', method: 'palpation', site: 'radial-artery', count: 17, seconds: 15 },
        oxygen(97),
        pressure('auscultation', 118, 76),
        // Worked through by hand: (99.5 - 32) x 5/9 = 37.5, of which two decimals are kept.
        { vital: 'body-temperature', site: 'oral', value: 99.5, unit: '[degF]' },
      ]),
    );
    expect(answer.status).toBe(201);
    const [breaths, pulse, saturation, cuff, temperature] = answer.body.readings;
    expect(breaths).toMatchObject({ value: 16, unit: '/min', entered: { count: 8, seconds: 30 } });
    expect(pulse).toMatchObject({ value: 68, unit: '/min' });
    expect(saturation).toMatchObject({ value: 97, interpretation: 'N' });
    expect(cuff).toMatchObject({
      systolic: 118,
      interpretation: { systolic: 'N', diastolic: 'N' },
    });
    expect(temperature).toMatchObject({ value: 37.5, unit: 'Cel', entered: { value: 99.5 } });
    for (const reading of answer.body.readings) {
      expect(reading.observation).toBe(`Observation/${reading.reading}`);
    }
  });

  it('is kept byte for byte with its hash, whatever becomes of it', async () => {
    const taken = JSON.stringify(setOf(patient, [oxygen(96)]), null, 1);
    const broken = '{"setId": ';
    const wrong = JSON.stringify({ ...setOf(patient, [oxygen(95)]), extra: true });
    expect((await gateway.ask('/sets', { body: taken, token })).status).toBe(201);
    expect((await gateway.ask('/sets', { body: broken, token })).status).toBe(400);
    const refused = await gateway.ask<{ errors: { pointer: string; message: string }[] }>('/sets', {
      body: wrong,
      token,
    });
    expect(refused.status).toBe(400);
    expect(refused.headers.get('content-type')).toMatch(/problem\+json/);
    expect(refused.body.errors.map((fault) => fault.pointer)).toEqual(['/extra']);
    expect(refused.body.errors[0]?.message).toMatch(/extra/);
    const stored = await kept();
    for (const [text, status] of [
      [taken, 201],
      [broken, 400],
      [wrong, 400],
    ] as const) {
      const row = stored.find((one) => one.body === text);
      expect(row?.status).toBe(status);
      expect(row?.sha256.equals(createHash('sha256').update(text).digest())).toBe(true);
    }
  });

  it('answers 422 when every reading is rejected, and 201 when one stands', async () => {
    const impossible = { ...oxygen(104) };
    expect((await send(setOf(patient, [impossible]))).status).toBe(422);
    const mixed = await send(setOf(patient, [impossible, oxygen(98)]));
    expect(mixed.status).toBe(201);
    expect(mixed.body.verdict).toBe('rejected');
    expect(mixed.body.readings.map((reading) => reading.verdict)).toEqual(['rejected', 'accepted']);
  });

  it('costs only the reading when a unit, a method or a site is not known', async () => {
    const answer = await send(
      setOf(patient, [
        { ...oxygen(97), unit: 'percent' },
        { vital: 'body-temperature', site: 'finger', value: 36.8, unit: 'Cel' },
        oxygen(97),
      ]),
    );
    expect(answer.body.readings.map((reading) => reading.verdict)).toEqual([
      'rejected',
      'rejected',
      'accepted',
    ]);
    expect(answer.body.findings.map((finding) => finding.rule)).toEqual(
      expect.arrayContaining(['unit-unknown', 'site-not-taken']),
    );
  });
});

describe('the key of a set', () => {
  it('gives the same content the first answer again, however it is written', async () => {
    const set = setOf(patient, [oxygen(98)]);
    const first = await send(set);
    const again = await send(set);
    expect(again.status).toBe(201);
    expect(again.headers.get('repeat')).toBe('true');
    expect(first.headers.get('repeat')).toBeNull();
    expect(again.text).toBe(first.text);
    const reordered = Object.fromEntries(Object.entries(set).reverse());
    const third = await gateway.ask('/sets', { body: JSON.stringify(reordered, null, 2), token });
    expect(third.text).toBe(first.text);
  });

  it('answers 409 to other content, keeps it, and changes nothing', async () => {
    const set = setOf(patient, [oxygen(98)]);
    const first = await send(set);
    const other = await send({ ...set, readings: [oxygen(97)] });
    expect(other.status).toBe(409);
    const now = await gateway.ask<SetAnswer>(`/sets/${set.setId}`, { token });
    expect(now.body).toEqual(first.body);
    expect((await kept()).some((row) => row.status === 409 && row.body.includes(set.setId))).toBe(
      true,
    );
  });

  it('belongs to the source: another source has the same id for itself', async () => {
    const set = setOf(patient, [oxygen(98)]);
    await send(set);
    const other = await gateway.token('sets.write', { name: 'another ward', attended: true });
    const answer = await gateway.ask<SetAnswer>('/sets', { body: set, token: other });
    expect(answer.status).toBe(201);
    expect(answer.headers.get('repeat')).toBeNull();
    const foreign = await gateway.token('sets.write', { name: 'a third ward', attended: true });
    expect((await gateway.ask(`/sets/${set.setId}`, { token: foreign })).status).toBe(404);
  });

  it('is not taken by a body that was answered 400', async () => {
    const set = setOf(patient, [oxygen(98)]);
    expect((await send({ ...set, readings: [] })).status).toBe(400);
    expect((await send(set)).status).toBe(201);
  });

  it('lets one of many simultaneous senders be first', async () => {
    const set = setOf(patient, [oxygen(98)]);
    const answers = await Promise.all(Array.from({ length: 12 }, () => send(set)));
    expect(answers.filter((one) => one.headers.get('repeat') === null)).toHaveLength(1);
    expect(new Set(answers.map((one) => one.text)).size).toBe(1);
  });
});

describe('a check', () => {
  it('judges as sending would, gives no ids, and keeps nothing', async () => {
    const before = (await kept()).length;
    const set = setOf(patient, [
      pressure('auscultation', 118, 76),
      pressure('oscillometry', 161, 99),
    ]);
    const checked = await gateway.ask<SetAnswer>('/sets/check', { body: set, token });
    expect(checked.status).toBe(200);
    expect(checked.body.verdict).toBe('held');
    expect(checked.text).not.toMatch(/"(reading|submission|observation)":/);
    expect((await kept()).length).toBe(before);
    const sent = await send(set);
    expect(sent.body.readings.map((one) => one.verdict)).toEqual(
      checked.body.readings.map((one) => one.verdict),
    );
  });

  it('does not tell a program what was measured before', async () => {
    const other = await registerPatient(gateway, 'LF-31002');
    await send(setOf(other, [pressure('auscultation', 117, 73)]));
    const set = setOf(other, [pressure('oscillometry', 163, 104)]);
    const checked = await gateway.ask<SetAnswer>('/sets/check', { body: set, token });
    expect(checked.body.verdict).toBe('held');
    expect(checked.text).not.toMatch(/\b117\b|\b73\b/);
  });
});

describe('hostile bodies', () => {
  const nul = String.fromCharCode(0);
  it.each<[string, string | Uint8Array<ArrayBuffer>]>([
    ['not JSON', 'hello'],
    ['an array', '[]'],
    ['deep nesting', '['.repeat(100_000)],
    ['a NUL in a text', JSON.stringify({ setId: randomUUID(), location: `a${nul}b` })],
    [
      'numbers beyond reason',
      '{"readings":[{"vital":"oxygen-saturation","value":1e308,"unit":"%"}]}',
    ],
    ['a number as a word', '{"readings":[{"vital":"oxygen-saturation","value":"NaN","unit":"%"}]}'],
    ['bytes that are not UTF-8', new Uint8Array([0x7b, 0x22, 0xff, 0xfe, 0x22, 0x7d])],
  ])('%s: 400 with faults, and the next set is taken', async (_name, body) => {
    const answer = await fetch(`${gateway.url}/sets`, {
      method: 'POST',
      headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
      body: typeof body === 'string' ? body : new Uint8Array(body),
    });
    expect(answer.status).toBe(400);
    const problem = (await answer.json()) as { errors: unknown[] };
    expect(problem.errors.length).toBeGreaterThan(0);
    expect((await send(setOf(patient, [oxygen(97)]))).status).toBe(201);
  });

  it('a date that is none is named', async () => {
    const answer = await gateway.ask<{ errors: { pointer: string }[] }>('/sets', {
      body: { ...setOf(patient, [oxygen(97)]), takenAt: '2026-02-30T10:00:00+01:00' },
      token,
    });
    expect(answer.status).toBe(400);
    expect(answer.body.errors.map((fault) => fault.pointer)).toEqual(['/takenAt']);
  });

  it('65 readings are too many', async () => {
    const readings = Array.from({ length: 65 }, () => oxygen(97));
    expect((await send(setOf(patient, readings))).status).toBe(400);
  });
});

describe('own sets', () => {
  it('are listed as they change', async () => {
    const source = { name: 'listing ward', attended: true };
    const own = await gateway.token('sets.write', source);
    const since = minutesAgo(1).replace('+', '%2B');
    const sent = [oxygen(96), oxygen(97), oxygen(98)].map((one) => setOf(patient, [one]));
    for (const body of sent) await gateway.ask('/sets', { body, token: own });
    const list = await gateway.ask<{ sets: SetAnswer[]; changedUntil: string }>(
      `/sets?changedSince=${since}`,
      { token: own },
    );
    expect(list.body.sets.map((one) => one.setId)).toEqual(sent.map((one) => one.setId));
    const after = await gateway.ask<{ sets: SetAnswer[] }>(
      `/sets?changedSince=${encodeURIComponent(list.body.changedUntil)}`,
      { token: own },
    );
    expect(after.body.sets).toEqual([]);
  });

  it('can be corrected and withdrawn by their source', async () => {
    // At a time of its own, so that none of its readings is that of another set.
    const set = setOf(patient, [oxygen(89), oxygen(98)], { takenAt: minutesAgo(7) });
    await send(set);
    const decide = (index: number, body: unknown) =>
      gateway.ask<SetAnswer>(`/sets/${set.setId}/readings/${index}/decisions`, { body, token });
    const corrected = await decide(0, {
      action: 'correct',
      reason: 'typed 89 for 98',
      reasonCode: 'entry-error',
      expectedVersion: 1,
      reading: oxygen(98),
    });
    expect(corrected.status).toBe(200);
    expect(corrected.body.readings[0]).toMatchObject({ value: 98, version: 2 });
    const stale = await decide(0, {
      action: 'withdraw',
      reason: 'again',
      reasonCode: 'entry-error',
      expectedVersion: 1,
    });
    expect(stale.status).toBe(409);
    const withdrawn = await decide(1, {
      action: 'withdraw',
      reason: 'the probe was on another patient',
      reasonCode: 'wrong-patient',
      expectedVersion: 1,
    });
    expect(withdrawn.status).toBe(200);
    const { rows } = await gateway.database.pool.query<{ status: string }>(
      'select status from readings where set_id = $1 and superseded is null order by reading_id',
      [set.setId],
    );
    expect(rows.map((row) => row.status)).toEqual(['corrected', 'entered-in-error']);
  });
});
