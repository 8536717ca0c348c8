import fc from 'fast-check';
import { demandsOf, readQuantity } from '../../../src/serve/fhir/search-quantity.js';
import { valuesOf } from '../../../src/serve/fhir/code-index.js';
import { toCanonical } from '../../../src/vitals/units.js';
import { FhirFixture, idsIn, outcomesIn } from './fhir-fixture.js';
import type { AnyBundle, ReadingWords } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

let patients = 0;

async function finderFor(
  readings: Readonly<Record<string, ReadingWords>>,
): Promise<(query: Readonly<Record<string, string>>) => Promise<string[]>> {
  patients += 1;
  const patient = await fhir.addPatient(`values-${patients}`);
  const names = Object.keys(readings);
  const ids = await fhir.addReadings(patient, Object.values(readings));
  return async (query) => {
    const text = new URLSearchParams({ patient: patient.id, ...query }).toString();
    const { status, body, text: answer } = await fhir.ask<AnyBundle>(`Observation?${text}`);
    if (status !== 200) throw new Error(answer);
    return idsIn(body)
      .map((id) => {
        const [reading = '', kind] = id.split('.');
        const name = names[ids.indexOf(reading)] ?? id;
        return kind === undefined ? name : `${name}.${kind}`;
      })
      .sort();
  };
}

async function refused(name: string, value: string): Promise<(number | string | undefined)[]> {
  const query = new URLSearchParams({ [name]: value }).toString();
  const { status, body } = await fhir.ask(`Observation?${query}`);
  const [issue] = body.resourceType === 'OperationOutcome' ? body.issue : [];
  return [status, issue?.code, issue?.expression?.[0]];
}

const UCUM = 'http://unitsofmeasure.org';
const cuff = { vital: 'blood-pressure', method: 'oscillometry' } as const;

describe('values', () => {
  it('are compared in every unit that senders may use', async () => {
    const find = await finderFor({
      cool: { vital: 'body-temperature', amount: '37.9' },
      warm: { vital: 'body-temperature', amount: '38.0' },
      hot: { vital: 'body-temperature', amount: '39.1' },
      weight: { vital: 'body-weight', amount: '70.5' },
      pulse: { amount: '38' },
    });
    const value = (text: string): Promise<string[]> => find({ 'value-quantity': text });
    // The example of FHIR R4 (vital signs, quantity search): a unit by its UCUM code.
    expect(await value(`gt38|${UCUM}|Cel`)).toEqual(['hot']);
    expect(await value(`ge100.4|${UCUM}|[degF]`)).toEqual(['hot', 'warm']);
    expect(await value(`lt100.4|${UCUM}|[degF]`)).toEqual(['cool']);
    expect(await value(`38|${UCUM}|Cel`)).toEqual(['cool', 'warm']);
    expect(await value(`38.0|${UCUM}|Cel`)).toEqual(['warm']);
    expect(await value(`ne38.0|${UCUM}|Cel`)).toEqual(['cool', 'hot']);
    expect(await value('38')).toEqual(['cool', 'pulse', 'warm']);
    expect(await value('38||/min')).toEqual(['pulse']);
    expect(await value('38||beats/minute')).toEqual(['pulse']);
    expect(await value(`gt155|${UCUM}|[lb_av]`)).toEqual(['weight']);
    expect(await value(`ap72000|${UCUM}|g`)).toEqual(['weight']);
    expect(await value(`sa38|${UCUM}|Cel,eb38|${UCUM}|/min`)).toEqual(['hot']);
    expect(await value('38|http://example.org|Cel')).toEqual([]);
    expect(await value('gt1e99')).toEqual([]);
    expect(await value('lt-1e-99')).toEqual([]);
  });

  it('of a pressure stand in its components, and code and value in the same one', async () => {
    const find = await finderFor({
      high: { ...cuff, systolic: '150', diastolic: '70' },
      low: { ...cuff, systolic: '110', diastolic: '95' },
      mean: { ...cuff, systolic: '120', diastolic: '80', mean: '93' },
      pulse: { amount: '145' },
    });
    expect(await find({ 'value-quantity': 'gt140' })).toEqual(['pulse']);
    expect(await find({ 'component-value-quantity': 'gt140' })).toEqual(['high']);
    expect(await find({ 'combo-value-quantity': 'gt140' })).toEqual(['high', 'pulse']);
    expect(await find({ 'combo-value-quantity': `gt18.6|${UCUM}|kPa` })).toEqual(['high']);
    expect(await find({ 'combo-code-value-quantity': '8480-6$gt140' })).toEqual(['high']);
    expect(await find({ 'component-code-value-quantity': '8480-6$lt100' })).toEqual([]);
    expect(await find({ 'component-code-value-quantity': 'http://loinc.org|8462-4$gt90' })).toEqual(
      ['low'],
    );
    expect(await find({ 'combo-code-value-quantity': '8478-0$93' })).toEqual(['mean']);
    expect(await find({ 'code-value-quantity': '8867-4$gt140' })).toEqual(['pulse']);
    expect(await find({ 'code-value-quantity': '85354-9$gt1' })).toEqual([]);
    expect(await find({ 'combo-code-value-quantity': '8867-4$gt140,8462-4$gt90' })).toEqual([
      'low',
      'pulse',
    ]);
    expect(await find({ 'component-code': '8480-6' })).toEqual(['high', 'low', 'mean']);
    expect(await find({ 'component-code': '8478-0' })).toEqual(['mean']);
    expect(await find({ 'component-code': '85354-9' })).toEqual([]);
  });

  it('that a rule found to be in error are no values', async () => {
    const find = await finderFor({
      mean: { ...cuff, systolic: '120', diastolic: '80', mean: '193' },
    });
    await fhir.database.pool.query(
      `update readings set findings = '[{"rule": "x", "severity": "noted", "verdict": "noted",
         "message": "No mean.", "advice": "", "partInError": "mean"}]' where mean = 193`,
    );
    expect(await find({ 'combo-code-value-quantity': '8478-0$gt0' })).toEqual([]);
    expect(await find({ 'component-data-absent-reason': 'error' })).toEqual(['mean']);
    expect(await find({ 'data-absent-reason': 'error' })).toEqual([]);
  });

  it('that were calculated are found like those that were measured', async () => {
    await fhir.switchDerivedOn();
    const pressure = { ...cuff, systolic: '120', diastolic: '80' };
    const find = await finderFor({
      one: {
        ...pressure,
        derived: { 'pulse-pressure': '40', 'mean-pressure': '93', factor: '1/3' },
      },
      gone: { ...pressure, derived: { 'mean-pressure': null } },
    });
    expect(await find({ 'value-quantity': `40|${UCUM}|mm[Hg]` })).toEqual(['one.pulse-pressure']);
    expect(await find({ 'code-value-quantity': '8478-0$gt90' })).toEqual(['one.mean-pressure']);
    expect(await find({ 'data-absent-reason': 'not-applicable' })).toEqual(['gone.mean-pressure']);
  });

  it('part what was entered as it was entered', () => {
    // The steps of instruments that show such units (common practice, no source).
    const steps = { '[degF]': 10, '[lb_av]': 10, kPa: 10, '[in_i]': 10, g: 1, m: 100 } as const;
    const units = Object.keys(steps) as (keyof typeof steps)[];
    fc.assert(
      fc.property(
        fc.constantFrom(...units),
        fc.integer({ min: 1, max: 3000 }),
        fc.integer({ min: 1, max: 3000 }),
        fc.constantFrom('gt', 'ge', 'lt', 'le'),
        (unit, enteredSteps, boundSteps, prefix) => {
          const [entered, bound] = [enteredSteps, boundSteps].map((count) =>
            String(count / steps[unit]),
          ) as [string, string];
          const { number: kept } = toCanonical(entered, unit);
          const asked = readQuantity(`${prefix}${bound}|${UCUM}|${unit}`);
          const [range] = demandsOf(asked, valuesOf('any'))[0]?.ranges ?? [];
          const above = range?.from ?? null;
          const below = range?.to ?? null;
          const end = Number((above ?? below)?.text);
          const met =
            (above !== null ? kept > end : kept < end) ||
            ((above ?? below)?.inclusive === true && kept === end);
          const [x, y] = [Number(entered), Number(bound)];
          const expected = { gt: x > y, ge: x >= y, lt: x < y, le: x <= y }[prefix];
          return met === expected;
        },
      ),
    );
  });

  it('agree with arithmetic for any number and comparison', async () => {
    const amounts = ['35.9', '36', '36.50', '37.04', '37.05', '38', '40.1'];
    const find = await finderFor(
      Object.fromEntries(amounts.map((amount) => [amount, { vital: 'body-temperature', amount }])),
    );
    const asked = fc.record({
      prefix: fc.constantFrom('', 'eq', 'ne', 'gt', 'ge', 'lt', 'le', 'sa', 'eb', 'ap'),
      hundredths: fc.integer({ min: 3500, max: 4100 }),
      decimals: fc.integer({ min: 0, max: 2 }),
    });
    await fc.assert(
      fc.asyncProperty(asked, async ({ prefix, hundredths, decimals }) => {
        const number = (Math.round(hundredths / 10 ** (2 - decimals)) / 10 ** decimals).toFixed(
          decimals,
        );
        // In thousandths, so that the halves are whole numbers.
        const at = Math.round(Number(number) * 1000);
        const half = 500 / 10 ** decimals;
        const meets = (amount: string): boolean => {
          const value = Math.round(Number(amount) * 1000);
          const rounds = value >= at - half && value < at + half;
          const cases: Readonly<Record<string, boolean>> = {
            ...{ gt: value > at, sa: value > at, ge: value >= at },
            ...{ lt: value < at, eb: value < at, le: value <= at },
            ...{ ne: !rounds, ap: Math.abs(value - at) * 10 <= at },
          };
          return cases[prefix] ?? rounds;
        };
        const found = await find({ 'value-quantity': `${prefix}${number}|${UCUM}|Cel` });
        expect([prefix, number, found]).toEqual([prefix, number, amounts.filter(meets).sort()]);
      }),
      { numRuns: 60 },
    );
  });
});

describe('reasons why there is no value, and methods', () => {
  it('are found where the Observation shows them', async () => {
    const find = await finderFor({
      pulse: { method: 'palpation' },
      refused: { amount: null, absent: 'refused' },
      missing: { ...cuff, systolic: '120', diastolic: null },
      none: { vital: 'blood-pressure', absent: 'not-done' },
      alert: { vital: 'consciousness', code: 'alert' },
    });
    expect(await find({ 'data-absent-reason': 'asked-declined' })).toEqual(['refused']);
    expect(await find({ 'data-absent-reason': 'not-performed' })).toEqual(['none']);
    expect(await find({ 'component-data-absent-reason': 'not-performed' })).toEqual([
      'missing',
      'none',
    ]);
    expect(await find({ 'combo-data-absent-reason': 'asked-declined,not-performed' })).toEqual([
      'missing',
      'none',
      'refused',
    ]);
    expect(await find({ method: '113011001' })).toEqual(['pulse']);
    expect(await find({ method: 'http://snomed.info/sct|31813000' })).toEqual(['missing']);
    expect(await find({ method: 'http://snomed.info/sct|1' })).toEqual([]);
    const bp = 'http://hl7.org/fhir/StructureDefinition/bp';
    expect(await find({ _profile: bp })).toEqual(['missing', 'none']);
  });
});

describe('hostile quantities', () => {
  it.each([
    ['value-quantity', 'hot'],
    ['value-quantity', 'gt'],
    ['value-quantity', 'xx38'],
    ['value-quantity', '38|Cel'],
    ['value-quantity', '38|a|b|c'],
    ['value-quantity', '1e999'],
    ['value-quantity', '9'.repeat(400)],
    ['value-quantity', 'NaN'],
    ['value-quantity', 'Infinity'],
    ['value-quantity', '0x10'],
    ['value-quantity', ' 38'],
    ['value-quantity', `310|${UCUM}|K`],
    ['combo-code-value-quantity', '8480-6'],
    ['combo-code-value-quantity', '$gt1'],
    ['combo-code-value-quantity', '8480-6$'],
    ['combo-code-value-quantity', '8480-6$gt1$gt2'],
    ['combo-code-value-quantity', '8480-6\\$gt140'],
    ['combo-code-value-quantity', '|$gt1'],
  ])('are refused: %s=%s', async (name, value) => {
    expect(await refused(name, value)).toEqual([400, 'value', `http.${name}`]);
  });

  it('are bounded in number', async () => {
    const list = (length: number): string =>
      Array.from({ length }, () => 'http://loinc.org|$ne1').join(',');
    expect((await refused('combo-code-value-quantity', list(51)))[1]).toBe('too-costly');
    const { status, body } = await fhir.ask<AnyBundle>('Observation/_search', {
      method: 'POST',
      body: new URLSearchParams({ 'combo-code-value-quantity': list(50), _count: '1' }),
    });
    expect([status, outcomesIn(body)]).toEqual([200, [expect.anything()]]);
  });

  it('with a modifier are refused', async () => {
    expect(await refused('value-quantity:missing', 'true')).toEqual([
      400,
      'code-invalid',
      'http.value-quantity:missing',
    ]);
  });
});
