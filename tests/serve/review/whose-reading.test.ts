/** Decisions about whose reading it is. */
import { composeStages } from '../../../src/judging.js';
import { Pipeline } from '../../../src/pipeline.js';
import { EditionShelf } from '../../../src/store/edition-shelf.js';
import { Names } from '../../../src/store/names.js';
import { registerPatient } from '../../setup/example-sets.js';
import {
  breaths,
  decision,
  firstOf,
  height,
  identifierOf,
  newNumber,
  openReviewDesk,
  saturation,
} from './review-desk.js';
import type { Json, ReviewDesk } from './review-desk.js';

let desk: ReviewDesk;
beforeAll(async () => {
  desk = await openReviewDesk();
});
afterAll(() => desk.gateway.close());

const named = (number: string, more: Json = {}): Json => ({
  patient: { identifier: identifierOf(number), ...more },
});

const sendUnknown = async (
  readings: readonly Json[],
  number = newNumber(),
): Promise<{ id: string; setId: string; number: string }> => {
  const answer = await desk.send(readings, named(number, { birthDate: '1949-07-30' }));
  return { id: firstOf(answer), setId: answer.setId, number };
};

const shock = {
  vital: 'blood-pressure',
  method: 'auscultation',
  site: 'upper-arm',
  side: 'right',
  systolic: 34,
  diastolic: 21,
  unit: 'mm[Hg]',
};

describe("an unknown patient's reading, assigned to a registered patient", () => {
  it('is judged for that patient and goes out under that subject', async () => {
    const { id } = await sendUnknown([saturation(82)]);
    expect((await desk.read(id)).body).toMatchObject({
      hold: 'identity',
      critical: true,
      deadline: null,
      patient: { registered: false, name: null },
    });
    const { number, birthDate } = await desk.patient();
    const { body } = await desk.decide(id, decision('assign', 1, named(number)));
    expect(body).toMatchObject({
      status: 'final',
      hold: null,
      interpretation: 'LL',
      patient: { identifier: identifierOf(number), registered: true, birthDate },
    });
    expect(body.findings.map(({ rule }) => rule)).not.toContain('patient-unknown');
  });

  it('stays held where its value is in doubt: naming the patient does not vouch for it', async () => {
    const { id } = await sendUnknown([height(241)]);
    const { number } = await desk.patient();
    const { body } = await desk.decide(id, decision('assign', 1, named(number)));
    expect(body).toMatchObject({ state: 'waiting', hold: 'value', status: null });
    expect(body.deadline).not.toBeNull();
    expect(body.allowedActions).not.toContain('assign');
  });

  it('goes out at once, unconfirmed, where that value is critical', async () => {
    const { id } = await sendUnknown([shock]);
    const { number } = await desk.patient();
    const { body } = await desk.decide(id, decision('assign', 1, named(number)));
    expect(body).toMatchObject({ state: 'out', hold: 'value', status: 'preliminary' });
  });

  it('is not taken for a patient whom nobody registered, or whom the decision contradicts', async () => {
    const { id } = await sendUnknown([saturation(94)]);
    const nobody = await desk.decide(id, decision('assign', 1, named(newNumber())));
    expect(nobody.status).toBe(422);
    const { number } = await desk.patient('1967-03-21');
    const slip = await desk.decide(
      id,
      decision('assign', 1, named(number, { birthDate: '1976-03-21' })),
    );
    expect(slip.status).toBe(422);
    expect(slip.body.findings.map(({ rule }) => rule)).toEqual(['patient-mismatch']);
    expect((await desk.read(id)).body).toMatchObject({ version: 1, hold: 'identity' });
    const right = named(number, { birthDate: '1967-03-21' });
    expect((await desk.decide(id, decision('assign', 1, right))).body.status).toBe('final');
  });

  it('keeps the device that measured it, also in a process that never met it', async () => {
    const device = { identifier: { system: 'urn:example:device', value: 'OX-41' } };
    const { id } = await sendUnknown([saturation(95, { device })]);
    const { number } = await desk.patient();
    const { pool } = desk.gateway.database;
    const stages = composeStages({
      editions: new EditionShelf(),
      holdMinutes: { value: 60, unit: 15 },
      onRuleFailure: () => undefined,
      onSlowRule: () => undefined,
    });
    const events = {
      countSubmission: () => undefined,
      countJudged: () => undefined,
      observeCommit: () => undefined,
    };
    const other = new Pipeline({ pool, names: new Names(pool), stages, events, clock: Date.now });
    const { rows } = await pool.query<{ client_key: number; source_key: number }>(
      "select client_key, source_key from clients where 'review.write' = any(scopes)",
    );
    const client = rows[0];
    if (client === undefined) throw new Error('nobody may decide');
    const sender = {
      clientKey: client.client_key,
      clientId: '',
      sourceKey: client.source_key,
      source: 'analysts',
      attended: true,
      secondIdentifierRequired: false,
      person: null,
    };
    const bytes = Buffer.from(JSON.stringify(decision('assign', 1, named(number))));
    await other.decideReading({ sender, bytes, contentType: 'application/json' }, id);
    expect((await desk.read(id)).body).toMatchObject({
      version: 2,
      status: 'final',
      device: device.identifier,
    });
  });
});

describe('a reading whose patient the register contradicts', () => {
  it('is judged by the age of the patient when a person releases it', async () => {
    const { number } = await desk.patient('2025-11-02');
    const id = firstOf(await desk.send([breaths(48)], named(number, { birthDate: '2015-11-02' })));
    expect((await desk.read(id)).body).toMatchObject({ hold: 'identity', status: null });
    const { body } = await desk.decide(id, decision('release', 1));
    expect(body).toMatchObject({ status: 'final', hold: null });
    expect(body).toHaveProperty('interpretation');
  });
});

describe('a correction while it is in doubt whose reading it is', () => {
  it('stays held, and is not lost when the register settles the doubt', async () => {
    const { id, number } = await sendUnknown([breaths(61)]);
    const corrected = await desk.decide(id, decision('correct', 1, { reading: breaths(16) }));
    expect(corrected.body).toMatchObject({ hold: 'identity', status: null, value: 16 });
    await registerPatient(desk.gateway, number, '1949-07-30');
    const endMs = Date.now() + 15_000;
    while ((await desk.published(id)) === null && Date.now() < endMs) {
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
    expect((await desk.read(id)).body).toMatchObject({ value: 16, status: 'final', version: 3 });
  });

  it('settles it when it names the patient as well', async () => {
    const { id } = await sendUnknown([breaths(61)]);
    const { number } = await desk.patient();
    const given = { reading: breaths(17), ...named(number) };
    expect((await desk.decide(id, decision('correct', 1, given))).body).toMatchObject({
      value: 17,
      status: 'final',
      hold: null,
      patient: { identifier: identifierOf(number) },
    });
  });

  it('is held against nobody, and sends out nothing of the patient named', async () => {
    const { number, birthDate } = await desk.patient('1967-03-21');
    const pressure = (method: string, systolic: number, diastolic: number): Json => ({
      ...shock,
      ...{ method, systolic, diastolic },
    });
    // Two methods that disagree, neither critical: held, and not out yet.
    const waiting = firstOf(
      await desk.send(
        [pressure('auscultation', 117, 72), pressure('oscillometry', 149, 83)],
        named(number, { birthDate }),
      ),
    );
    const doubtful = named(number, { birthDate: '1931-03-21' });
    const id = firstOf(await desk.send([pressure('oscillometry', 121, 74)], doubtful));
    const reading = pressure('oscillometry', 83, 51);
    const { body } = await desk.decide(id, decision('correct', 1, { reading }));
    expect(body).toMatchObject({ hold: 'identity', status: null, critical: true });
    expect(body.findings.map(({ rule }) => rule)).toEqual(
      expect.not.arrayContaining(['blood-pressure-methods-disagree']),
    );
    expect((await desk.read(waiting)).body).toMatchObject({ version: 1, status: null });
    // Once it is known to be that patient's, the contradiction brings the other one out.
    const settled = await desk.decide(id, decision('assign', 2, named(number)));
    expect(settled.body.findings.map(({ rule }) => rule)).toContain(
      'blood-pressure-methods-disagree',
    );
    expect((await desk.read(waiting)).body).toMatchObject({ version: 2, status: 'preliminary' });
  });

  it('publishes no rejected reading under a patient in doubt, whoever corrects it', async () => {
    const { number } = await desk.patient('1967-03-21');
    const doubtful = named(number, { birthDate: '1971-03-21' });
    const answer = await desk.send([saturation(104)], doubtful);
    const id = firstOf(answer);
    const correction = decision('correct', 1, { reading: saturation(94) });
    const ward = await desk.gateway.token('sets.write');
    const own = await desk.gateway.ask(`/sets/${answer.setId}/readings/0/decisions`, {
      body: correction,
      token: ward,
    });
    expect(own.status).toBe(409);
    expect((await desk.decide(id, correction)).status).toBe(409);
    expect(await desk.published(id)).toBeNull();
    const settled = decision('correct', 1, { reading: saturation(94), ...named(number) });
    expect((await desk.decide(id, settled)).body).toMatchObject({ status: 'final', value: 94 });
  });
});

describe('a published reading that stands under the wrong patient', () => {
  it('is withdrawn there and published anew under the right one', async () => {
    const [wrong, right] = [await desk.patient(), await desk.patient()];
    const set = { ...named(wrong.number, { birthDate: wrong.birthDate }), location: 'larkfield/4' };
    const id = firstOf(await desk.send([breaths(23)], set));
    const old = (await desk.read(id)).body;
    const given = { ...named(right.number), reasonCode: 'wrong-patient' };
    const { status, body } = await desk.decide(id, decision('correct', 1, given));
    expect(status).toBe(200);
    expect(body).toMatchObject({
      version: 2,
      status: 'entered-in-error',
      patient: { id: old.patient.id },
      allowedActions: [],
    });
    const anew = body.published;
    expect(anew).toMatchObject({
      version: 1,
      status: 'final',
      value: 23,
      takenAt: old.takenAt,
      location: 'larkfield/4',
      setId: old.setId,
      replaces: id,
      patient: { identifier: identifierOf(right.number) },
    });
    const newId = String(anew?.reading);
    expect(newId).not.toBe(id);
    expect(body.replacedBy).toBe(newId);
    expect(body.decisions).toMatchObject([{ action: 'correct', newReading: newId }]);
    expect(await desk.published(id)).toBe('entered-in-error');
    expect(await desk.published(newId)).toBe('final');
    expect((await desk.read(newId)).body).toEqual(anew);
  });
});
