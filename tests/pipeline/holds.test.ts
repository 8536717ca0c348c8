import {
  minutesAgo,
  MRN,
  oxygen,
  pressure,
  registerPatient,
  setOf,
} from '../setup/example-sets.js';
import type { SetAnswer } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

interface FhirObservation {
  readonly status: string;
  readonly meta: {
    readonly versionId: string;
    readonly tag?: readonly { readonly code: string }[];
  };
  readonly note?: readonly { readonly text: string }[];
}

let gateway: TestGateway;
let token: string;
let record: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  token = await gateway.token('sets.write');
  record = await gateway.token('system/*.rs');
});
afterAll(() => gateway.close());

const send = async (body: unknown): Promise<SetAnswer> =>
  (await gateway.ask<SetAnswer>('/sets', { body, token })).body;
const asStored = async (setId: string): Promise<SetAnswer> =>
  (await gateway.ask<SetAnswer>(`/sets/${setId}`, { token })).body;
const observation = (reading: string) =>
  gateway.ask<FhirObservation>(`/fhir/Observation/${reading}`, { token: record });

/** Looks again until it is so; the scheduler works by itself. */
async function until<T>(look: () => Promise<T>, isSo: (found: T) => boolean): Promise<T> {
  const endMs = Date.now() + 15_000;
  for (;;) {
    const found = await look();
    if (isSo(found) || Date.now() > endMs) return found;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}

/** The deadline of a set's holds passes, by the database's clock. */
async function letDeadlinePass(setId: string): Promise<void> {
  await gateway.database.pool.query(
    "update readings set hold_until = clock_timestamp() - interval '1 second' where set_id = $1 and hold_until is not null",
    [setId],
  );
}

describe('a value hold', () => {
  it('of a value that is not critical waits unpublished, then goes out as preliminary and stays held', async () => {
    const patient = await registerPatient(gateway, 'LF-32001');
    const set = setOf(patient, [
      pressure('auscultation', 118, 76),
      pressure('oscillometry', 148, 84),
    ]);
    const answer = await send(set);
    expect(answer.readings.map((one) => one.verdict)).toEqual(['held', 'held']);
    const [first] = answer.readings;
    expect(first?.observation).toBeUndefined();
    expect((await observation(first?.reading ?? '')).status).toBe(404);
    await letDeadlinePass(set.setId);
    const later = await until(
      () => asStored(set.setId),
      (found) => found.readings.every((one) => one.observation !== undefined),
    );
    expect(later.readings.map((one) => one.verdict)).toEqual(['held', 'held']);
    const out = await observation(first?.reading ?? '');
    expect(out.body.status).toBe('preliminary');
    expect(out.body.meta.tag?.map((tag) => tag.code)).toEqual(['unconfirmed']);
    expect(out.body.note?.some((note) => note.text.includes('30'))).toBe(true);
  });

  it('of a critical value is published at once, with both sides of the disagreement', async () => {
    const patient = await registerPatient(gateway, 'LF-32002');
    const answer = await send(
      setOf(patient, [pressure('auscultation', 84, 52), pressure('oscillometry', 126, 78)]),
    );
    expect(answer.readings.map((one) => one.verdict)).toEqual(['held', 'held']);
    for (const reading of answer.readings) {
      const out = await observation(reading.reading);
      expect(out.body.status).toBe('preliminary');
      expect(out.body.meta.tag?.map((tag) => tag.code)).toEqual(['unconfirmed']);
    }
  });

  it('stays out when its sender corrects it to one that is doubted but not critical', async () => {
    const patient = await registerPatient(gateway, 'LF-32005');
    const answer = await send(
      setOf(patient, [pressure('auscultation', 84, 52), pressure('oscillometry', 126, 78)]),
    );
    const corrected = await gateway.ask<SetAnswer>(`/sets/${answer.setId}/readings/0/decisions`, {
      token,
      body: {
        action: 'correct',
        reason: 'Read again.',
        reasonCode: 'entry-error',
        expectedVersion: 1,
        reading: pressure('auscultation', 100, 60),
      },
    });
    expect(corrected.body.readings[0]).toMatchObject({ verdict: 'held', version: 2 });
    const out = await observation(answer.readings[0]?.reading ?? '');
    expect([out.status, out.body.status, out.body.meta.versionId]).toEqual([
      200,
      'preliminary',
      '2',
    ]);
  });

  it('brings out the earlier, held side too when the later one is critical', async () => {
    const patient = await registerPatient(gateway, 'LF-32003');
    // The first set is held by itself: two methods that disagree, neither critical.
    const first = await send(
      setOf(patient, [pressure('auscultation', 119, 70), pressure('oscillometry', 150, 84)]),
    );
    expect(first.readings.every((one) => one.observation === undefined)).toBe(true);
    await send(setOf(patient, [pressure('oscillometry', 82, 50)]));
    const now = await asStored(first.setId);
    expect(now.readings[0]?.observation).toBeDefined();
    const out = await observation(now.readings[0]?.reading ?? '');
    expect(out.body.status).toBe('preliminary');
  });
});

describe('a suspected unit', () => {
  it('waits for its own, shorter deadline', async () => {
    const patient = await registerPatient(gateway, 'LF-32004');
    const set = setOf(patient, [pressure('auscultation', 16, 10)]);
    const answer = await send(set);
    expect(answer.readings[0]).toMatchObject({ verdict: 'held' });
    expect(answer.readings[0]?.observation).toBeUndefined();
    const { rows } = await gateway.database.pool.query<{ hold: string; minutes: number }>(
      `select hold, extract(epoch from hold_until - stamp)::float / 60 as minutes
         from readings where set_id = $1`,
      [set.setId],
    );
    expect(rows[0]).toEqual({ hold: 'unit', minutes: 15 });
  });
});

describe('an identity hold', () => {
  const unknown = (number: string, birthDate: string) => ({
    ...setOf({ number, birthDate }, [oxygen(97), pressure('auscultation', 82, 50)]),
  });

  it('publishes nothing, not even a critical value, until the patient is registered', async () => {
    const set = unknown('LF-33001', '1971-06-05');
    const answer = await send(set);
    expect(answer.findings.map((finding) => finding.rule)).toContain('patient-unknown');
    expect(answer.readings.map((one) => one.verdict)).toEqual(['held', 'held']);
    expect(answer.readings.every((one) => one.observation === undefined)).toBe(true);
    await registerPatient(gateway, 'LF-33001', '1971-06-05');
    const later = await until(
      () => asStored(set.setId),
      (found) => found.readings.every((one) => one.observation !== undefined),
    );
    expect(later.readings.map((one) => one.verdict)).toEqual(['accepted', 'noted']);
    const out = await observation(later.readings[1]?.reading ?? '');
    expect(out.body.status).toBe('final');
  });

  it('stays when the patient is registered with another second identifier, and ends when that is put right', async () => {
    const set = unknown('LF-33002', '1971-06-05');
    await send(set);
    await registerPatient(gateway, 'LF-33002', '1971-05-06');
    await new Promise((resolve) => setTimeout(resolve, 500));
    expect((await asStored(set.setId)).readings.every((one) => one.verdict === 'held')).toBe(true);
    await registerPatient(gateway, 'LF-33002', '1971-06-05');
    const later = await until(
      () => asStored(set.setId),
      (found) => found.verdict !== 'held',
    );
    expect(later.verdict).toBe('noted');
  });

  it('stays when the registration comes more than a day later', async () => {
    const set = unknown('LF-33003', '1971-06-05');
    await send(set);
    await gateway.database.pool.query(
      "update submissions set received_at = received_at - interval '25 hours' where set_id = $1",
      [set.setId],
    );
    await registerPatient(gateway, 'LF-33003', '1971-06-05');
    await new Promise((resolve) => setTimeout(resolve, 500));
    expect((await asStored(set.setId)).verdict).toBe('held');
  });

  it('holds a set whose visit is another patient’s', async () => {
    const one = await registerPatient(gateway, 'LF-33004');
    const other = await registerPatient(gateway, 'LF-33005');
    const encounter = { identifier: { system: 'urn:example:visit', value: 'V-5501' } };
    expect((await send(setOf(one, [oxygen(97)], { encounter }))).verdict).toBe('accepted');
    const crossed = await send(setOf(other, [oxygen(97)], { encounter }));
    expect(crossed.verdict).toBe('held');
    expect(crossed.findings.map((finding) => finding.rule)).toContain('patient-mismatch');
  });

  it('notes a person’s set with one identifier only', async () => {
    const patient = await registerPatient(gateway, 'LF-33006');
    const answer = await send({
      ...setOf(patient, [oxygen(97)]),
      patient: { identifier: { system: MRN, value: patient.number } },
    });
    expect(answer.verdict).toBe('noted');
  });
});

describe('time', () => {
  it('ahead by more than five minutes is held', async () => {
    const patient = await registerPatient(gateway, 'LF-34001');
    const ahead = await send(setOf(patient, [oxygen(97)], { takenAt: minutesAgo(-7) }));
    expect(ahead.findings.map((finding) => finding.rule)).toContain('time-in-future');
    const slightly = await send(setOf(patient, [oxygen(97)], { takenAt: minutesAgo(-3) }));
    expect(slightly.verdict).toBe('accepted');
  });
});

describe('an unattended source', () => {
  it('publishes as preliminary, marked unreviewed', async () => {
    const patient = await registerPatient(gateway, 'LF-35001');
    const device = await gateway.token('sets.write', { name: 'bedside monitor', attended: false });
    const body = setOf(patient, [oxygen(97)]);
    const answer = await gateway.ask<SetAnswer>('/sets', { body, token: device });
    const out = await observation(answer.body.readings[0]?.reading ?? '');
    expect(out.body.status).toBe('preliminary');
    expect(out.body.meta.tag?.map((tag) => tag.code)).toEqual(['unreviewed']);
  });
});
