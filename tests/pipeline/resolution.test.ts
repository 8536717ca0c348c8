import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { minutesAgo, oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, SetBody } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

interface FhirObservation {
  readonly status: string;
  readonly meta: { readonly tag?: readonly { readonly code: string }[] };
  readonly note?: readonly { readonly text: string }[];
}

/** Two gateways on one database: a repeat may come to another process than what it resolves. */
let one: TestGateway;
let other: { gateway: Gateway; pool: Pool; url: string };
let token: string;
let record: string;

beforeAll(async () => {
  const publicUrl = 'http://127.0.0.1:1';
  one = await openTestGateway({ PUBLIC_URL: publicUrl });
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const config = readConfig({ PORT: '0', DATABASE_URL: databaseUrl, PUBLIC_URL: publicUrl });
  const gateway = createGateway(config, pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  other = { gateway, pool, url: `http://127.0.0.1:${port}` };
  token = await one.token('sets.write');
  record = await one.token('system/*.rs');
});
afterAll(async () => {
  await other.gateway.stop();
  await other.pool.end();
  await one.close();
});

const send = async (body: SetBody, by = token): Promise<SetAnswer> =>
  (await one.ask<SetAnswer>('/sets', { body, token: by })).body;
const asStored = async (setId: string, by = token): Promise<SetAnswer> =>
  (await one.ask<SetAnswer>(`/sets/${setId}`, { token: by })).body;
const verdicts = (answer: SetAnswer) => answer.readings.map((each) => each.verdict);
const observation = (reading: string | undefined) =>
  one.ask<FhirObservation>(`/fhir/Observation/${reading ?? ''}`, { token: record });
const byHand = (systolic: number, diastolic: number) =>
  pressure('auscultation', systolic, diastolic);
const byCuff = (systolic: number, diastolic: number) =>
  pressure('oscillometry', systolic, diastolic);

/**
 * Common practice, no source: a repeat that agrees with one of two methods settles their disagreement;
 * the tolerances are those of `tests/rules/resolution.test.ts`.
 */
describe('a repeat in a later set', () => {
  it('releases the earlier reading that it agrees with; the other stays held', async () => {
    const patient = await registerPatient(one, 'LF-41001');
    const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
    const held = await send(first);
    expect(verdicts(held)).toEqual(['held', 'held']);
    const repeat = await send(setOf(patient, [byCuff(121, 78)]));
    expect(repeat.findings.find((each) => each.rule === 'resolved-by-repeat')).toMatchObject({
      verdict: 'noted',
      readings: [0],
      message: expect.stringContaining('118/76 mmHg by stethoscope') as string,
    });

    const now = await asStored(first.setId);
    expect(verdicts(now)).toEqual(['noted', 'held']);
    expect(now.readings[0]).toMatchObject({
      version: 2,
      observation: `Observation/${now.readings[0]?.reading ?? ''}`,
    });
    expect(now.readings[1]).toMatchObject({ version: 1 });
    expect(now.readings[1]?.observation).toBeUndefined();
    expect(now.findings.find((each) => each.rule === 'resolved-by-repeat')).toMatchObject({
      readings: [0],
    });

    const out = await observation(now.readings[0]?.reading);
    expect(out.body.status).toBe('final');
    expect(out.body.meta.tag).toBeUndefined();
    expect(out.body.note?.map(({ text }) => text).join(' ')).toMatch(/no longer held/);
  });

  it('tells the sender of the first set that it changed, and writes it into the audit trail', async () => {
    const patient = await registerPatient(one, 'LF-41002');
    const first = await send(setOf(patient, [byHand(118, 76), byCuff(159, 97)]));
    const repeat = await send(setOf(patient, [byCuff(121, 78)]));
    const { rows } = await one.database.pool.query<{ same: boolean; doubts: number }>(
      `select a.changed_stamp = b.changed_stamp as same
         from submissions a, submissions b where a.submission_id = $1 and b.submission_id = $2`,
      [first.submission, repeat.submission],
    );
    expect(rows).toEqual([{ same: true }]);
    const audit = await one.database.pool.query<{ entity: string }>(
      "select entity from audit where action = 'hold-resolved'",
    );
    const released = first.readings[0]?.reading ?? '';
    expect(audit.rows.filter(({ entity }) => entity.endsWith(released))).toHaveLength(1);
    const waiting = await one.database.pool.query(
      'select from readings where reading_id = $1 and superseded is null and (hold is not null or hold_until is not null)',
      [released],
    );
    expect(waiting.rowCount).toBe(0);
  });

  it('that is the other method releases the other side', async () => {
    const patient = await registerPatient(one, 'LF-41003');
    const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
    await send(first);
    await send(setOf(patient, [byHand(155, 94)]));
    expect(verdicts(await asStored(first.setId))).toEqual(['held', 'noted']);
  });

  it.each([
    ['LF-41101', 'by the same method, near its own first', byCuff(161, 98)],
    ['LF-41102', 'that agrees with neither', byCuff(140, 87)],
    ['LF-41103', 'on the other arm', { ...byCuff(121, 78), side: 'right' }],
    ['LF-41104', 'taken later than the window', { ...byCuff(121, 78), takenAt: 'late' }],
  ])('%s: %s, releases nothing', async (number, _name, third) => {
    const patient = await registerPatient(one, number);
    const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)], { takenAt: minutesAgo(7) });
    await send(first);
    const takenAt = 'takenAt' in third ? minutesAgo(1) : minutesAgo(6);
    const repeat = await send(setOf(patient, [{ ...third, takenAt }]));
    expect(repeat.findings.map((each) => each.rule)).not.toContain('resolved-by-repeat');
    expect(verdicts(await asStored(first.setId))).toEqual(['held', 'held']);
  });

  it('leaves a critical outlier published as preliminary', async () => {
    const patient = await registerPatient(one, 'LF-41004');
    const first = setOf(patient, [byHand(126, 78), byCuff(84, 50)]);
    const held = await send(first);
    expect(held.readings.every((each) => each.observation !== undefined)).toBe(true);
    await send(setOf(patient, [byCuff(124, 80)]));
    const now = await asStored(first.setId);
    expect(verdicts(now)).toEqual(['noted', 'held']);
    expect((await observation(now.readings[0]?.reading)).body.status).toBe('final');
    const outlier = await observation(now.readings[1]?.reading);
    expect(outlier.body.status).toBe('preliminary');
    expect(outlier.body.meta.tag?.map(({ code }) => code)).toEqual(['unconfirmed']);
  });

  it('releases what an unattended source sent as preliminary', async () => {
    const patient = await registerPatient(one, 'LF-41005');
    const monitor = await one.token('sets.write', { name: 'corridor monitor', attended: false });
    const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
    await send(first, monitor);
    await send(setOf(patient, [byCuff(121, 78)]));
    const now = await asStored(first.setId, monitor);
    expect(verdicts(now)).toEqual(['noted', 'held']);
    const out = await observation(now.readings[0]?.reading);
    expect(out.body.status).toBe('preliminary');
    expect(out.body.meta.tag?.map(({ code }) => code)).toEqual(['unreviewed']);
  });

  it('does not undo what a reviewer decided', async () => {
    const patient = await registerPatient(one, 'LF-41006');
    const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
    const held = await send(first);
    const withdrawn = await one.ask(`/sets/${first.setId}/readings/0/decisions`, {
      token,
      body: {
        action: 'correct',
        reason: 'read the wrong line',
        reasonCode: 'other',
        expectedVersion: held.readings[0]?.version,
        reading: byHand(148, 92),
      },
    });
    expect(withdrawn.status).toBe(200);
    await send(setOf(patient, [byCuff(121, 78)]));
    const now = await asStored(first.setId);
    expect(now.readings[0]).toMatchObject({ systolic: 148 });
    expect(now.findings.map((each) => each.rule)).not.toContain('resolved-by-repeat');
  });
});

describe('two sets that arrive together', () => {
  /** How many of the readings of a set got their first two versions in one commit. */
  const versionsOfOneCommit = async (setId: string): Promise<number> => {
    const { rowCount } = await one.database.pool.query(
      `select from readings a join readings b using (reading_id)
        where a.set_id = $1 and a.version = 1 and b.version = 2 and a.stamp = b.stamp
          and a.superseded = b.stamp`,
      [setId],
    );
    return rowCount ?? 0;
  };

  it('come to the same, in whichever order the batch has them', async () => {
    let inOneCommit = 0;
    for (let round = 0; round < 20; round += 1) {
      const patient = await registerPatient(one, `LF-413${String(100 + round)}`);
      const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
      const repeat = setOf(patient, [byCuff(121, 78)]);
      // While the first lines are committed, each alone, the last ones gather.
      const somebody = await registerPatient(one, 'LF-41300');
      const fillers = [1, 2, 3].map(() => setOf(somebody, [oxygen(97)]));
      const sets = [...fillers, ...(round % 2 === 0 ? [first, repeat] : [repeat, first])];
      const headers = { 'content-type': 'application/x-ndjson' };
      const body = sets.map((each) => `${JSON.stringify(each)}\n`).join('');
      await one.ask('/sets', { body, headers, token });
      expect(verdicts(await asStored(first.setId))).toEqual(['noted', 'held']);
      inOneCommit += await versionsOfOneCommit(first.setId);
    }
    expect(inOneCommit).toBeGreaterThan(0);
  });
});

describe('two processes', () => {
  it('resolve what the other one holds', async () => {
    for (let round = 0; round < 10; round += 1) {
      const patient = await registerPatient(one, `LF-4140${String(round)}`);
      const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
      await send(first);
      const body = setOf(patient, [byCuff(121, 78)]);
      await askAt<SetAnswer>(`${other.url}/sets`, { body, token });
      expect(verdicts(await asStored(first.setId))).toEqual(['noted', 'held']);
    }
  });

  it('at the same moment release a reading once', async () => {
    for (let round = 0; round < 10; round += 1) {
      const patient = await registerPatient(one, `LF-4150${String(round)}`);
      const first = setOf(patient, [byHand(118, 76), byCuff(159, 97)]);
      const held = await send(first);
      await Promise.all([
        one.ask('/sets', { body: setOf(patient, [byCuff(121, 78)]), token }),
        askAt(`${other.url}/sets`, { body: setOf(patient, [byCuff(120, 77)]), token }),
      ]);
      expect((await asStored(first.setId)).readings[0]).toMatchObject({
        reading: held.readings[0]?.reading,
        verdict: 'noted',
        version: 2,
      });
    }
  });
});
