/**
 * A set checked on the device is answered as the gateway answers it, wherever neither earlier readings nor
 * more of the register than the patient is asked: the reference is `POST /sets/check` over a real socket.
 */
import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';
import fc from 'fast-check';
import { checkHere } from '../../../src/browser/bedside/check-here/check-here.js';
import type { FoundPatient, SetJson } from '../../../src/browser/bedside/door.js';
import type { RegisteredPatient } from '../../../src/vitals/shapes.js';
import { readCorpus } from '../../corpus/read-corpus.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { STRICTER } from '../../serve/rules/site-configuration.js';
import { pageSet } from './page-sets.js';

const MRN = 'urn:example:mrn';
const DEFAULTS = { edition: '1', rules: {} };

let gateway: TestGateway;
let token: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  token = await gateway.token('sets.check system/Patient.crus');
});
afterAll(() => gateway.close());

let people = 0;

/** Somebody new in the register, as the page finds her there. */
async function register(known: RegisteredPatient): Promise<FoundPatient> {
  people += 1;
  const identifier = { system: MRN, value: `LF-7${people}` };
  // The register asks for it; nothing is judged by it either way.
  const gender = known.gender ?? 'unknown';
  const { birthDate, familyName } = known;
  const answer = await gateway.ask(`/fhir/Patient?identifier=${MRN}%7C${identifier.value}`, {
    method: 'PUT',
    token,
    headers: { 'content-type': 'application/fhir+json' },
    body: {
      resourceType: 'Patient',
      identifier: [identifier],
      name: [familyName === null ? { given: ['Wren'] } : { family: familyName }],
      gender,
      ...(birthDate !== null && { birthDate }),
    },
  });
  if (answer.status !== 201) throw new Error(answer.text);
  return { identifier, others: [], givenNames: [], ...known, gender };
}

async function askGateway(set: SetJson): Promise<unknown> {
  const { status, body } = await gateway.ask('/sets/check', { body: set, token });
  if (status === 200) return { answer: body };
  const { errors } = body as { errors?: { pointer: string }[] };
  return { faults: errors?.map(({ pointer }) => pointer).sort() };
}

/** What the page would show; what is undefined is not shown. */
function askDevice(set: SetJson, patient: FoundPatient | null, by = DEFAULTS as object): unknown {
  const told = checkHere(set, patient, by as typeof DEFAULTS, Date.now());
  if ('faults' in told) return { faults: told.faults.map(({ pointer }) => pointer).sort() };
  return JSON.parse(JSON.stringify(told));
}

/** Sets of the corpus that the page could have made: not a device's, and of somebody registered. */
const SETS = readCorpus().flatMap(({ cases }) =>
  cases
    .filter(({ patient, settings }) => patient !== null && settings === undefined)
    .flatMap(({ name, patient, sets }) =>
      sets
        .filter(({ claim, devices, source, encounterOfAnother }) =>
          [claim, devices, source, encounterOfAnother].every((each) => each === undefined),
        )
        .map(({ set }, place) => ({ name: `${name}, set ${place}`, patient, set: set as SetJson })),
    ),
);

describe('the device and the gateway', () => {
  it('have most of the corpus to agree about', () => {
    expect(SETS.length).toBeGreaterThan(300);
  });

  it('say the same of every set of the corpus', async () => {
    const wrong: unknown[] = [];
    for (const { name, patient, set } of SETS) {
      if (patient === null) continue;
      const found = await register(patient);
      const own = { ...set, patient: { ...set.patient, identifier: found.identifier } };
      const [said, should] = [askDevice(own, found), await askGateway(own)];
      if (JSON.stringify(said) !== JSON.stringify(should)) wrong.push({ name, said, should });
    }
    expect(wrong).toEqual([]);
  });

  it('say the same of any set that the page can make', async () => {
    await fc.assert(
      fc.asyncProperty(pageSet, async ({ patient, set }) => {
        const found = await register(patient);
        const own = { ...set, patient: { ...set.patient, identifier: found.identifier } };
        expect(askDevice(own, found)).toEqual(await askGateway(own));
      }),
      { numRuns: 100 },
    );
  });

  it('refuse the same of what somebody may type', async () => {
    const found = await register({ birthDate: '1961-05-23', familyName: 'Tarn', gender: 'female' });
    const typed = fc.oneof(
      fc.constantFrom('', '36,5', '1e3', '007', '-0', '36.1234567', '1000000', '12.', '.5', ' 12'),
      fc.double({ noNaN: true, noDefaultInfinity: true }),
      fc.integer({ min: -2_000_000, max: 2_000_000 }).map(String),
    );
    const reading = fc.oneof(
      typed.map((value) => ({ vital: 'body-temperature', value, unit: 'Cel' })),
      fc.tuple(typed, typed).map(([systolic, diastolic]) => ({
        ...{ vital: 'blood-pressure', method: 'auscultation' },
        ...{ systolic, diastolic, unit: 'mm[Hg]' },
      })),
      fc.oneof(fc.integer({ min: -5, max: 1100 }), fc.double({ noNaN: true })).map((count) => ({
        ...{ vital: 'respiratory-rate', method: 'counted', count, seconds: 30 },
      })),
      fc
        .tuple(fc.double({ noNaN: true, min: -10, max: 2000 }), fc.integer({ min: 490, max: 510 }))
        .map(([number, length]) => ({
          ...{ vital: 'blood-pressure', method: 'auscultation', systolic: 120, diastolic: 80 },
          ...{ unit: 'mm[Hg]', armCircumferenceCm: number, inflatedTo: number },
          ...{
            minutesSinceHotDrink: number,
            minutesSinceColdDrink: number,
            note: 'é'.repeat(length),
          },
        })),
    );
    await fc.assert(
      fc.asyncProperty(fc.array(reading, { maxLength: 3 }), async (readings) => {
        const set = {
          setId: randomUUID(),
          patient: { identifier: found.identifier, birthDate: '1961-05-23' },
          takenAt: '2026-03-02T08:15:00+01:00',
          readings,
        } as unknown as SetJson;
        expect(askDevice(set, found)).toEqual(await askGateway(set));
      }),
      { numRuns: 100 },
    );
  });

  it('judge by the same limits after the site has changed them', async () => {
    const writer = await gateway.token('rules.write rules.read');
    const approver = await gateway.token('rules.approve');
    const proposed = await gateway.ask<{ edition: string }>('/rules/editions', {
      token: writer,
      body: { configuration: STRICTER, reason: 'The two methods lie nearer together here.' },
    });
    const { edition } = proposed.body;
    await gateway.ask(`/rules/editions/${edition}/approve`, {
      token: approver,
      body: { reason: 'Agreed.' },
    });
    await sleep(2_500);
    const found = await register({ birthDate: '1961-05-23', familyName: 'Tarn', gender: 'female' });
    const pressure = { vital: 'blood-pressure', unit: 'mm[Hg]', site: 'upper-arm', side: 'left' };
    const set = {
      setId: randomUUID(),
      patient: { identifier: found.identifier, birthDate: '1961-05-23' },
      takenAt: '2026-03-02T08:15:00+01:00',
      readings: [
        { ...pressure, method: 'auscultation', systolic: 120, diastolic: 78 },
        { ...pressure, method: 'oscillometry', systolic: 138, diastolic: 80 },
      ],
    } as unknown as SetJson;
    const should = await askGateway(set);
    expect(should).toMatchObject({ answer: { edition } });
    expect(askDevice(set, found, { edition, rules: STRICTER })).toEqual(should);
    expect(askDevice(set, found)).not.toEqual(should);
  });
});
