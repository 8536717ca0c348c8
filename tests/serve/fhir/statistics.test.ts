import type { Observation, Parameters } from 'fhir/r4.js';
import fc from 'fast-check';
import { profileFaults } from '../../fhir-validation/check-profiles.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { STATISTIC_CODES, reckon } from '../../../src/serve/fhir/statistics.js';
import { FhirFixture } from './fhir-fixture.js';
import type { TestPatient } from './fhir-fixture.js';

let fhir: FhirFixture;
let patient: TestPatient;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  patient = await fhir.addPatient('stats');
  const pressure = { vital: 'blood-pressure', diastolic: '80' } as const;
  await fhir.addReadings(patient, [
    { amount: '60', at: '2026-03-01T08:00:00Z' },
    { amount: '70', at: '2026-03-01T09:00:00Z', status: 'preliminary' },
    { amount: '95', at: '2026-03-01T10:00:00Z' },
    { amount: '250', at: '2026-03-01T10:30:00Z', status: 'entered-in-error' },
    { amount: null, absent: 'refused', at: '2026-03-01T10:40:00Z' },
    { amount: '99', at: '2026-03-02T10:00:00Z' },
    { ...pressure, systolic: '120', at: '2026-03-01T08:00:00Z' },
    { ...pressure, systolic: '140', at: '2026-03-01T09:00:00Z', mean: '100' },
  ]);
});
afterAll(() => fhir.close());

const PERIOD = 'period=2026-03-01T00:00:00Z/2026-03-01T23:59:59Z';

async function stats(query: string): Promise<Parameters> {
  const { status, body, text } = await fhir.ask<Parameters>(`Observation/$stats?${query}`);
  if (status !== 200) throw new Error(text);
  return body;
}

type Told = Record<string, number | undefined>;

function toldBy({ component = [] }: Observation): Told {
  const told: Told = {};
  for (const { code, valueQuantity } of component) {
    told[code.coding?.[0]?.code ?? ''] = valueQuantity?.value;
  }
  return told;
}

/** The statistics by the code that they are of. */
function told({ parameter = [] }: Parameters): Record<string, Told> {
  const found: Record<string, Told> = {};
  for (const { name, resource } of parameter) {
    if (name !== 'statistics') continue;
    const observation = resource as Observation;
    found[observation.code.coding?.[0]?.code ?? ''] = toldBy(observation);
  }
  return found;
}

/** OperationDefinition Observation-stats 4.0.1. */
describe('$stats', () => {
  const subject = (): string => `subject=Patient/${patient.id}`;

  it('reckons what counts, in the period asked for', async () => {
    const words = 'statistic=average&statistic=max&statistic=minimum&statistic=count,total-count';
    const found = await stats(
      `${subject()}&code=8867-4&system=http://loinc.org&${PERIOD}&${words}`,
    );
    expect(told(found)).toEqual({
      '8867-4': { average: 75, maximum: 95, minimum: 60, count: 3, 'total-count': 4 },
    });
    const observation = found.parameter?.[0]?.resource as Observation;
    expect(schemaFaults('Observation', observation)).toEqual([]);
    // But for counts: their unit, 1, is not among those of the R4 profile (ucum-vitals-common).
    const measured = observation.component?.filter(({ valueQuantity: of }) => of?.code !== '1');
    expect(profileFaults({ ...observation, component: measured })).toEqual([]);
    expect(observation).toMatchObject({
      status: 'final',
      subject: { reference: `Patient/${patient.id}` },
      effectivePeriod: { start: '2026-03-01T00:00:00.000Z' },
      note: [{ text: 'Of these, 1 are preliminary.' }],
    });
  });

  it('gives each part of a pressure for the code of the panel, or one of them', async () => {
    const rest = `${PERIOD}&statistic=average&statistic=std-dev`;
    expect(told(await stats(`${subject()}&code=85354-9&${rest}`))).toEqual({
      '8480-6': { average: 130, 'std-dev': 14.1421 },
      '8462-4': { average: 80, 'std-dev': 0 },
      '8478-0': { average: 100, 'std-dev': undefined },
    });
    const one = await stats(`${subject()}&coding=http://loinc.org|8480-6&${rest}`);
    expect(Object.keys(told(one))).toEqual(['8480-6']);
  });

  it('brings the Observations along where they are asked for', async () => {
    const query = `${subject()}&code=8867-4&${PERIOD}&statistic=count&include=true`;
    const sources = async (more: string): Promise<number> =>
      ((await stats(query + more)).parameter ?? []).filter(({ name }) => name === 'source').length;
    expect([await sources(''), await sources('&limit=2')]).toEqual([4, 2]);
  });

  it('is asked by a Parameters resource too', async () => {
    const ask = (parameter: unknown): ReturnType<typeof fhir.ask<Parameters>> =>
      fhir.ask<Parameters>('Observation/$stats', {
        method: 'POST',
        headers: { 'Content-Type': 'application/fhir+json' },
        body: JSON.stringify({ resourceType: 'Parameters', parameter }),
      });
    const { status, body } = await ask([
      { name: 'subject', valueUri: `Patient/${patient.id}` },
      { name: 'coding', valueCoding: { system: 'http://loinc.org', code: '8867-4' } },
      { name: 'period', valuePeriod: { start: '2026-03-01', end: '2026-03-02' } },
      { name: 'statistic', valueCode: 'median' },
    ]);
    expect([status, told(body)]).toEqual([200, { '8867-4': { median: 82.5 } }]);
    for (const wrong of [
      null,
      [null],
      [{}],
      [{ name: 'code' }],
      [{ name: 'code', valueRange: {} }],
    ]) {
      expect((await ask(wrong)).status).toBe(400);
    }
  });

  it.each([
    ['code=8867-4&duration=1&statistic=count', 'required'],
    ['subject=Patient/ID&duration=1&statistic=count', 'required'],
    ['subject=Patient/ID&code=8867-4&statistic=count', 'required'],
    ['subject=Patient/ID&code=8867-4&duration=1', 'required'],
    ['subject=Patient/ID&code=8867-4&duration=-1&statistic=count', 'value'],
    ['subject=Patient/ID&code=8867-4&duration=1e400&statistic=count', 'value'],
    ['subject=Patient/ID&code=8867-4&period=2026-02-30/&statistic=count', 'value'],
    ['subject=Patient/ID&code=8867-4&period=2026-03-02/2026-03-01&statistic=count', 'value'],
    ['subject=Patient/ID&code=8867-4&duration=1&statistic=kurtosis', 'not-supported'],
    ['subject=Patient/ID&code=8867-4&duration=1&statistic=__proto__', 'not-supported'],
    ['subject=Patient/ID&code=1234-5&duration=1&statistic=count', 'code-invalid'],
    ['subject=Device/1&code=8867-4&duration=1&statistic=count', 'value'],
    ['subject=Patient/ID&code=8867-4&duration=1&statistic=count&colour=red', 'not-supported'],
    ['subject=Patient/ID&code=8867-4&duration=1&statistic=count&limit=0', 'value'],
  ])('refuses %s', async (query, code) => {
    const { status, body } = await fhir.ask(
      `Observation/$stats?${query.replace('ID', patient.id)}`,
    );
    const [issue] = body.resourceType === 'OperationOutcome' ? body.issue : [];
    expect([status, issue?.code]).toEqual([400, code]);
  });
});

describe('statistics', () => {
  it('keep their order, whatever the numbers', () => {
    const numbers = fc.array(fc.integer({ min: -1000, max: 1000 }), {
      minLength: 2,
      maxLength: 30,
    });
    fc.assert(
      fc.property(numbers, (list) => {
        const of = Object.fromEntries(
          STATISTIC_CODES.map((code) => [code, reckon(code, list, list.length + 1) ?? NaN]),
        ) as Record<(typeof STATISTIC_CODES)[number], number>;
        const rising = [of.minimum, of['20-percent'], of['4-lower'], of.median, of['4-upper']];
        const order = [...rising, of['80-percent'], of.maximum];
        expect(order).toEqual([...order].sort((one, other) => one - other));
        expect(of.average).toBeCloseTo(of.sum / of.count, 3);
        expect(of['total-count']).toBe(list.length + 1);
        expect(of['4-dev']).toBeCloseTo(of['4-upper'] - of['4-lower'], 3);
      }),
    );
  });

  it('are absent where there are too few numbers', () => {
    const none = STATISTIC_CODES.filter((code) => reckon(code, [], 0) === null);
    expect(STATISTIC_CODES.filter((code) => !none.includes(code))).toEqual([
      'count',
      'total-count',
    ]);
    expect(reckon('std-dev', [5], 1)).toBeNull();
  });
});
