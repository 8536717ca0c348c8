import { kindsWithCode, kindsWithComboCode } from '../../../src/serve/fhir/code-index.js';
import { renderShown } from '../../../src/serve/fhir/render-derived.js';
import { findObservations } from '../../../src/store/search-observations.js';
import type { ObservationKind } from '../../../src/store/observation-conditions.js';
import { SHOWN } from '../../../src/store/shown-observations.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import { VITALS } from '../../../src/vitals/words.js';
import { FhirFixture } from './fhir-fixture.js';
import type { ReadingWords } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

/** Every sign with every method and site that it takes, and without; pressures with a mean, and with what is calculated. */
function everyReading(): ReadingWords[] {
  return VITALS.flatMap((vital) => {
    const { methodsTaken, sitesTaken, form } = CATALOGUE[vital];
    return [null, ...methodsTaken].flatMap((method) =>
      [null, ...sitesTaken].flatMap((site): ReadingWords[] => {
        const words = { vital, method, site };
        if (form === 'code') return [{ ...words, code: 'alert' }];
        if (form !== 'pressure') return [words];
        const pressure = { ...words, systolic: '128', diastolic: '74' };
        const derived = { 'pulse-pressure': '54', 'mean-pressure': '92', factor: '1/3' };
        return [pressure, { ...pressure, mean: '92' }, { ...pressure, derived }];
      }),
    );
  });
}

type Searched = 'code' | 'combo-code';

describe('a code', () => {
  it('finds exactly the Observations that are rendered with it, for the whole catalogue', async () => {
    const patient = await fhir.addPatient('codes');
    await fhir.addReadings(patient, everyReading());
    const { rows } = await fhir.database.pool.query<{ stamp: Date }>(
      'select last_stamp as stamp from publication_clock',
    );
    const asOfMs = rows[0]?.stamp.getTime() ?? 0;
    const find = async (
      kinds: readonly ObservationKind[] | null,
    ): Promise<Map<string, string[]>> => {
      const versions = await findObservations(fhir.database.pool, {
        conditions: kinds === null ? [] : [{ on: 'kind', kinds }],
        asOfMs,
        shown: SHOWN,
        sort: [{ by: 'id', descending: false }],
        after: null,
        limit: 10_000,
      });
      return new Map(
        versions.map((version) => {
          const { id = '', code, component = [] } = renderShown(version);
          const codings = [code, ...component.map((part) => part.code)].map(({ coding = [] }) =>
            coding.map(({ system = '', code: one = '' }) => `${system}|${one}`),
          );
          return [id, [String(codings[0]?.length), ...codings.flat()]];
        }),
      );
    };
    const all = await find(null);
    const derivedFrom = everyReading().filter(({ derived }) => derived !== undefined);
    expect(all.size).toBe(everyReading().length + 2 * derivedFrom.length);
    const carriers = (name: Searched, token: string): string[] =>
      [...all].flatMap(([id, [own = '0', ...codings]]) => {
        const looked = name === 'code' ? codings.slice(0, Number(own)) : codings;
        return looked.includes(token) ? [id] : [];
      });
    const tokens = new Set([...all.values()].flatMap(([, ...codings]) => codings));
    expect(tokens.size).toBeGreaterThan(50);
    for (const token of tokens) {
      const [system = '', code = ''] = token.split('|');
      const found = await find(kindsWithCode([{ system, code }]));
      expect([token, [...found.keys()]]).toEqual([token, carriers('code', token)]);
      const combo = await find(kindsWithComboCode([{ system: undefined, code }]));
      expect([token, [...combo.keys()]]).toEqual([token, carriers('combo-code', token)]);
    }
  });

  // FHIR R4 §10.1.19: parts of a pressure have codes of their own, and 8867-4 stands for every pulse.
  it('means what the R4 vital-signs table says', () => {
    expect(kindsWithCode([{ system: undefined, code: '8480-6' }])).toEqual([]);
    expect(kindsWithComboCode([{ system: 'http://loinc.org', code: '8480-6' }])).toEqual([
      { vital: 'blood-pressure', methods: null, sites: null, part: null },
    ]);
    expect(kindsWithCode([{ system: 'http://loinc.org', code: '8867-4' }])).toEqual([
      { vital: 'pulse-rate', methods: null, sites: null, part: null },
    ]);
  });
});
