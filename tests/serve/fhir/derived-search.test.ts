/** Searches, pages and histories of what was calculated: as if each value were a row of its own. */
import fc from 'fast-check';
import type { Observation } from 'fhir/r4.js';
import type { DerivedValues } from '../../../src/vitals/shapes.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { FhirFixture, idsIn, observationsIn } from './fhir-fixture.js';
import type { AnyBundle, ReadingWords, TestPatient } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  await fhir.switchDerivedOn();
});
afterAll(() => fhir.close());

const BOTH: DerivedValues = { 'pulse-pressure': '48', 'mean-pressure': '92', factor: '1/3' };
const PRESSURE: ReadingWords = {
  vital: 'blood-pressure',
  systolic: '124',
  diastolic: '76',
  derived: BOTH,
};
const DERIVED = 'urn:vital-sign-gateway:derived|';

/** The ids under which a reading is shown, in their order. */
function shownIds(id: string, derived: DerivedValues | null | undefined): string[] {
  return [
    id,
    ...(derived?.['mean-pressure'] === undefined ? [] : [`${id}.mean-pressure`]),
    ...(derived?.['pulse-pressure'] === undefined ? [] : [`${id}.pulse-pressure`]),
  ];
}

const SORTS = ['date', '-date', '_lastUpdated', '-_lastUpdated', '_id', '-_id'];

interface Written {
  readonly hour: number;
  readonly derived: DerivedValues | null;
}
/** One to three commits of some readings, at few times, so that the id has to decide often. */
const commits: fc.Arbitrary<readonly (readonly Written[])[]> = fc.array(
  fc.array(
    fc.record({
      hour: fc.integer({ min: 0, max: 2 }),
      derived: fc.constantFrom(null, BOTH, { 'pulse-pressure': '48' } as DerivedValues),
    }),
    { minLength: 1, maxLength: 6 },
  ),
  { minLength: 1, maxLength: 3 },
);

interface Expected {
  readonly id: string;
  readonly hour: number;
  readonly commit: number;
}

async function write(
  patient: TestPatient,
  list: readonly (readonly Written[])[],
): Promise<Expected[]> {
  const expected: Expected[] = [];
  for (const [commit, readings] of list.entries()) {
    const ids = await fhir.addReadings(
      patient,
      readings.map(({ hour, derived }) => ({
        ...PRESSURE,
        derived,
        at: `2026-03-01T0${hour}:00:00Z`,
      })),
    );
    ids.forEach((id, i) => {
      const { hour = 0, derived } = readings[i] ?? {};
      for (const one of shownIds(id, derived)) expected.push({ id: one, hour, commit });
    });
  }
  return expected;
}

function inOrder(expected: readonly Expected[], sort: string): string[] {
  const by = sort.replace('-', '');
  const keyOf = (one: Expected): number => (by === 'date' ? one.hour : one.commit);
  const sorted = [...expected].sort(
    (a, b) => (by === '_id' ? 0 : keyOf(a) - keyOf(b)) || (a.id < b.id ? -1 : 1),
  );
  const ids = sorted.map(({ id }) => id);
  return sort.startsWith('-') ? ids.reverse() : ids;
}

describe('pages', () => {
  let people = 0;

  it('hold each Observation once, in the order asked for, whatever their size', async () => {
    await fc.assert(
      fc.asyncProperty(
        commits,
        fc.constantFrom(...SORTS),
        fc.integer({ min: 1, max: 5 }),
        async (list, sort, count) => {
          people += 1;
          const patient = await fhir.addPatient(`derived-${people}`);
          const expected = await write(patient, list);
          const bundles = await fhir.pages(
            `Observation?patient=${patient.id}&_sort=${sort}&_count=${count}&_total=accurate`,
          );
          expect(idsIn(...bundles)).toEqual(inOrder(expected, sort));
          expect(bundles[0]?.total).toBe(expected.length);
        },
      ),
      { numRuns: 15 },
    );
  });

  it('of the history hold each version once, newest first', async () => {
    const patient = await fhir.addPatient('derived-history');
    const [one = '', two = ''] = await fhir.addReadings(patient, [PRESSURE, PRESSURE]);
    await fhir.change(one, { systolic: '130', derived: { 'pulse-pressure': '54' } });
    await fhir.change(two, { status: 'entered-in-error' });
    const bundles = await fhir.pages('Observation/_history?_count=2');
    const mine = observationsIn(bundles).filter(({ subject }) =>
      subject?.reference?.endsWith(patient.id),
    );
    const [mean, pulse] = ['.mean-pressure', '.pulse-pressure'];
    expect(mine.map(({ id, meta }) => `${id} ${meta?.versionId}`)).toEqual([
      ...[`${two}${pulse} 2`, `${two}${mean} 2`, `${two} 2`],
      ...[`${one}${pulse} 2`, `${one} 2`],
      ...[`${two}${pulse} 1`, `${two}${mean} 1`, `${two} 1`],
      ...[`${one}${pulse} 1`, `${one}${mean} 1`, `${one} 1`],
    ]);
    for (const bundle of bundles) expect(bundleFaults(bundle)).toEqual([]);
  });

  it('show the state of the first one while pressures are corrected', async () => {
    const patient = await fhir.addPatient('derived-state');
    const ids = await fhir.addReadings(
      patient,
      Array.from({ length: 5 }, () => PRESSURE),
    );
    let round = 0;
    const bundles = await fhir.pages(
      `Observation?patient=${patient.id}&code=${DERIVED}&_count=3`,
      async () => {
        await fhir.change(ids[round] ?? '', { derived: { 'pulse-pressure': null } });
        round += 1;
      },
    );
    expect(new Set(idsIn(...bundles)).size).toBe(10);
    expect(observationsIn(bundles).every(({ meta }) => meta?.versionId === '1')).toBe(true);
    const { body } = await fhir.ask<AnyBundle>(
      `Observation?patient=${patient.id}&code=${DERIVED}&_summary=count`,
    );
    expect(body.total).toBe(10 - round);
  });
});

describe('one value', () => {
  it('came into being with the first version that had it', async () => {
    const patient = await fhir.addPatient('derived-first');
    const id = await fhir.addReading(patient, { ...PRESSURE, derived: null });
    await fhir.change(id, { derived: BOTH });
    await fhir.change(id, { derived: { 'pulse-pressure': null, 'mean-pressure': '92' } });
    const [, mean = '', pulse = ''] = shownIds(id, BOTH);
    const events = async (of: string): Promise<unknown> =>
      (await fhir.ask<AnyBundle>(`Observation/${of}/_history`)).body.entry?.map(
        ({ request, response, resource }) => [
          request?.method,
          response?.etag,
          (resource as Observation).status,
        ],
      );
    expect(await events(pulse)).toEqual([
      ['PUT', 'W/"3"', 'entered-in-error'],
      ['POST', 'W/"2"', 'final'],
    ]);
    expect(await events(mean)).toEqual([
      ['PUT', 'W/"3"', 'final'],
      ['POST', 'W/"2"', 'final'],
    ]);
    expect((await fhir.ask(`Observation/${pulse}/_history/1`)).status).toBe(404);
    const byStatus = async (status: string): Promise<string[]> =>
      idsIn(
        (await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}&status=${status}`)).body,
      ).sort();
    expect(await byStatus('entered-in-error')).toEqual([pulse]);
    expect(await byStatus('final')).toEqual([id, mean].sort());
    const { text } = await fhir.ask(`Observation/${pulse}`);
    expect(resourceFaults(text)).toEqual([]);
  });

  it('is tagged as its pressure is, save what holds no more', async () => {
    const patient = await fhir.addPatient('derived-tags');
    const id = await fhir.addReading(patient, {
      ...PRESSURE,
      status: 'preliminary',
      verdict: 'held',
      hold: 'value',
      derived: { 'pulse-pressure': '48', 'mean-pressure': null },
    });
    const tagged = async (tag: string): Promise<string[]> => {
      const { body } = await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}&_tag=${tag}`);
      for (const one of observationsIn([body])) {
        expect(one.meta?.tag?.map(({ code }) => code)).toContain(tag);
      }
      return idsIn(body).sort();
    };
    expect(await tagged('unconfirmed')).toEqual(shownIds(id, { 'pulse-pressure': '48' }));
    expect(await tagged('unreviewed')).toEqual([]);
  });

  it('has no other id', async () => {
    const patient = await fhir.addPatient('derived-ids');
    const id = await fhir.addReading(patient, PRESSURE);
    for (const other of [
      `${id}.reading`,
      `${id}.`,
      `${id}.mean-pressure.mean-pressure`,
      `${id}.Mean-pressure`,
      `${id}-mean-pressure`,
      `${id.toUpperCase()}.mean-pressure`,
      'mean-pressure',
    ]) {
      expect((await fhir.ask(`Observation/${other}`)).status).toBe(404);
      expect((await fhir.ask(`Observation/${other}/_history/1`)).status).toBe(404);
      expect((await fhir.ask(`Observation/${other}/_history`)).status).toBe(404);
      const { body } = await fhir.ask<AnyBundle>(`Observation?_id=${other}`);
      expect(body.total).toBe(0);
    }
    // FHIR R4, datatypes, id: letters, digits, - and ., 64 characters at most.
    for (const one of shownIds(id, BOTH)) expect(one).toMatch(/^[A-Za-z0-9\-.]{1,64}$/);
    const { body } = await fhir.ask<AnyBundle>(
      `Observation?_id=${shownIds(id, BOTH).join(',')}&_sort=_id`,
    );
    expect(idsIn(body)).toEqual(shownIds(id, BOTH));
  });
});
