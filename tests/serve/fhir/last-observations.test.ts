import fc from 'fast-check';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { kindsWithCode } from '../../../src/serve/fhir/code-index.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import { VITALS } from '../../../src/vitals/words.js';
import { FhirFixture, idsIn, outcomesIn } from './fhir-fixture.js';
import type { AnyBundle, ReadingWords } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  await fhir.switchDerivedOn();
});
afterAll(() => fhir.close());

async function last(query: string): Promise<AnyBundle> {
  const { status, body, text } = await fhir.ask<AnyBundle>(`Observation/$lastn?${query}`);
  if (status !== 200) throw new Error(text);
  return body;
}

/** OperationDefinition Observation-lastn 4.0.1. */
describe('$lastn', () => {
  it('takes the newest of each code by the time taken, not by arrival, and all of the same time', async () => {
    const patient = await fhir.addPatient('last-1');
    const pressure = { vital: 'blood-pressure', systolic: '120', diastolic: '80' } as const;
    const derived = { 'mean-pressure': '93', factor: '1/3' };
    const at = (hour: number): { at: string } => ({ at: `2026-03-01T0${hour}:00:00Z` });
    const [pulse9 = '', pulse8 = '', bp = '', palpated = ''] = await fhir.addReadings(patient, [
      { ...at(9) },
      { ...at(8) },
      { ...pressure, derived, ...at(7) },
      { ...at(9), method: 'palpation' },
    ]);
    // It arrives late, and is no newer for that.
    await fhir.addReading(patient, at(2));
    const one = await last(`patient=${patient.id}&category=vital-signs`);
    expect(idsIn(one).sort()).toEqual([bp, `${bp}.mean-pressure`, pulse9, palpated].sort());
    expect(one.total).toBe(4);
    expect(bundleFaults(one)).toEqual([]);
    const two = await last(`subject=Patient/${patient.id}&code=8867-4&max=3`);
    expect(idsIn(two)).toEqual([pulse9, palpated].sort().reverse().concat(pulse8));
    expect(two.link?.[0]?.url).toContain('/Observation/$lastn?subject=');
    expect(two.link?.[0]?.url).toContain('max=3');
    expect(idsIn(await last(`patient=${patient.id}&code=29463-7`))).toEqual([]);
    const finder = `patient.identifier=urn:example:mrn|last-1&code=85354-9&_elements=code`;
    expect(idsIn(await last(finder))).toEqual([bp]);
  });

  it('counts what was entered in error unless the status says otherwise, and tells what is held', async () => {
    const patient = await fhir.addPatient('last-2');
    const [wrong = '', right = ''] = await fhir.addReadings(patient, [
      { at: '2026-03-01T09:00:00Z', status: 'entered-in-error' },
      { at: '2026-03-01T08:00:00Z' },
      { at: '2026-03-01T10:00:00Z', status: null, hold: 'value', verdict: 'held' },
    ]);
    const query = `patient=${patient.id}&code=8867-4`;
    expect(idsIn(await last(query))).toEqual([wrong]);
    expect(idsIn(await last(`${query}&status=final`))).toEqual([right]);
    expect(outcomesIn(await last(query))[0]?.issue[0]?.diagnostics).toBe('held=1');
  });

  it('agrees with a plain reckoning for any readings and any max', async () => {
    let round = 0;
    const reading = fc.record({
      hour: fc.integer({ min: 0, max: 4 }),
      vital: fc.constantFrom('pulse-rate' as const, 'body-weight' as const),
    });
    const readings = fc.array(reading, { minLength: 1, maxLength: 10 });
    await fc.assert(
      fc.asyncProperty(readings, fc.integer({ min: 1, max: 4 }), async (list, max) => {
        round += 1;
        const patient = await fhir.addPatient(`last-any-${round}`);
        const ids = await fhir.addReadings(
          patient,
          list.map(({ hour, vital }): ReadingWords => ({
            vital,
            at: `2026-03-01T0${hour}:00:00Z`,
          })),
        );
        const expected = ids.filter((_, i) => {
          const own = list[i];
          return list.filter((one) => one.vital === own?.vital && one.hour > own.hour).length < max;
        });
        const found = idsIn(await last(`patient=${patient.id}&category=vital-signs&max=${max}`));
        expect(found.sort()).toEqual(expected.sort());
      }),
      { numRuns: 20 },
    );
  });

  it.each([
    ['code=8867-4', 'required'],
    ['patient=x', 'required'],
    ['patient=x&code=8867-4&max=0', 'value'],
    ['patient=x&code=8867-4&max=1.5', 'value'],
    ['patient=x&code=8867-4&max=2&max=3', 'value'],
    ['patient=x&code=8867-4&_sort=date', 'not-supported'],
    ['patient=x&code=8867-4&_count=5', 'not-supported'],
    ['patient=x&code=8867-4&colour=red', 'not-supported'],
  ])('refuses %s', async (query, code) => {
    const { status, body } = await fhir.ask(`Observation/$lastn?${query}`);
    const [issue] = body.resourceType === 'OperationOutcome' ? body.issue : [];
    expect([status, issue?.code]).toEqual([400, code]);
  });

  it('groups by sign: no two signs share a code of their own', () => {
    for (const vital of VITALS) {
      for (const { system, code } of CATALOGUE[vital].codings) {
        const kinds = kindsWithCode([{ system, code }]);
        expect(kinds).toHaveLength(1);
        expect(kinds).toMatchObject([{ vital }]);
      }
    }
  });
});
