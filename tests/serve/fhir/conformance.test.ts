/**
 * Every sign in every form that the contract allows, rendered and held against the published standard:
 * R4 JSON Schema, FHIRPath invariants, slices, fixed values and bindings (tests/fhir-validation).
 */
import type { Observation } from 'fhir/r4.js';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderObservation } from '../../../src/serve/fhir/render-observation.js';
import { SIGNAL_DOUBTS } from '../../../src/vitals/device-report.js';
import type { DeviceReport } from '../../../src/vitals/device-report.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import type { Entered, ReadingVersion } from '../../../src/vitals/shapes.js';
import {
  ABSENT_REASONS,
  CONSCIOUSNESS_CODES,
  INTERPRETATIONS,
  OBSERVATION_STATUSES,
  POSITIONS,
  SIDES,
  VITALS,
} from '../../../src/vitals/words.js';
import type { Vital } from '../../../src/vitals/words.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { sampleVersion } from './sample-version.js';

const R4 = 'http://hl7.org/fhir/StructureDefinition/';
const US = 'http://hl7.org/fhir/us/core/StructureDefinition/';

/**
 * What goes out for each sign, typed from FHIR R4 §10.1.19 (code and unit) and US Core 9.0.0 (profile);
 * oxygen: LOINC of the components of us-core-pulse-oximetry; consciousness: LOINC 67775-7, which no
 * profile of either names.
 */
const EXPECTED: Readonly<Record<Vital, readonly [loinc: string, unit: string, ...string[]]>> = {
  'respiratory-rate': ['9279-1', '/min', `${R4}resprate`, `${US}us-core-respiratory-rate`],
  'pulse-rate': ['8867-4', '/min', `${R4}heartrate`, `${US}us-core-heart-rate`],
  'oxygen-saturation': ['2708-6', '%', `${R4}oxygensat`, `${US}us-core-pulse-oximetry`],
  'blood-pressure': ['85354-9', 'mm[Hg]', `${R4}bp`, `${US}us-core-blood-pressure`],
  'body-temperature': ['8310-5', 'Cel', `${R4}bodytemp`, `${US}us-core-body-temperature`],
  'body-height': ['8302-2', 'cm', `${R4}bodyheight`, `${US}us-core-body-height`],
  'body-weight': ['29463-7', 'kg', `${R4}bodyweight`, `${US}us-core-body-weight`],
  'oxygen-flow': ['3151-8', 'L/min', `${R4}vitalsigns`, `${US}us-core-vital-signs`],
  'inspired-oxygen': ['3150-0', '%', `${R4}vitalsigns`, `${US}us-core-vital-signs`],
  consciousness: ['67775-7', '', `${R4}vitalsigns`],
};

/** Forms in which a sign's value can stand in a version: numbers in each unit taken, a count, codes, absence. */
function valueForms(vital: Vital): Partial<ReadingVersion>[] {
  const { form, values, unitsTaken } = CATALOGUE[vital];
  const numbers = Object.fromEntries(
    values.map((part, place) => [part, `${String(140 - place * 20)}.50`]),
  );
  const entered = unitsTaken.map((unit): Entered =>
    form === 'pressure' ? { ...numbers, unit } : { value: '12.30', unit },
  );
  const counted: Entered = { count: 11, seconds: 30 };
  return [
    ...(form === 'code'
      ? CONSCIOUSNESS_CODES.map((code) => ({ code, values: {} }))
      : [null, ...entered].map((one) => ({ values: numbers, entered: one }))),
    ...(form === 'number-or-count' ? [{ values: { value: '22' }, entered: counted }] : []),
    ...(form === 'pressure'
      ? values.map((part) => ({
          values: { [part]: '104' },
          interpretation: { [part]: 'N' as const },
        }))
      : []),
    ...ABSENT_REASONS.map((absent) => ({ absent, values: {} })),
  ];
}

/** The states in which a version can be out: each status, by an accepted and by a held reading. */
const STATES = OBSERVATION_STATUSES.flatMap((status) => [
  { status, verdict: 'accepted' as const },
  { status, verdict: 'noted' as const },
  { status, verdict: 'held' as const, hold: 'value' as const },
]);

function pick<T>(list: readonly T[], at: number): T {
  const found = list[at % list.length];
  if (found === undefined) throw new RangeError('nothing to pick from');
  return found;
}

/** Every method, site and side of a sign; value form, position, state and interpretation go round with them. */
function* placings(vital: Vital): Generator<Partial<ReadingVersion>> {
  const { methodsTaken, sitesTaken, values } = CATALOGUE[vital];
  const forms = valueForms(vital);
  let turn = 0;
  for (const method of [null, ...methodsTaken]) {
    for (const site of [null, ...sitesTaken]) {
      for (const side of [null, ...SIDES]) {
        turn += 1;
        const interpretation = pick(INTERPRETATIONS, turn);
        yield {
          vital,
          method,
          site,
          side,
          position: pick([null, ...POSITIONS], turn),
          interpretation: Object.fromEntries(values.map((part) => [part, interpretation])),
          ...pick(STATES, turn),
          ...pick(forms, turn),
        };
      }
    }
  }
}

/** Every value form of a sign in every state and position. */
function* states(vital: Vital): Generator<Partial<ReadingVersion>> {
  const { methodsTaken, sitesTaken } = CATALOGUE[vital];
  const how = { method: methodsTaken[0] ?? null, site: sitesTaken[0] ?? null };
  for (const form of valueForms(vital)) {
    for (const state of STATES) {
      yield { vital, ...how, side: null, interpretation: {}, ...form, ...state };
    }
    for (const position of POSITIONS)
      yield { vital, ...how, position, interpretation: {}, ...form };
  }
}

/** What a device's message told beside the value: every word that it may say of its signal, and its own time. */
const REPORTS: readonly DeviceReport[] = [
  { at: 'OBX 4', deviceTime: '2026-03-02T06:38:12.250+01:00' },
  { at: 'OBX 4', reviewed: true, doubts: ['code-by-name-only'] },
  ...SIGNAL_DOUBTS.map((one): DeviceReport => ({ at: 'entry 2', signal: [one] })),
  { at: 'entry 2', reviewed: true, signal: [...SIGNAL_DOUBTS] },
];

/** Every value form of a sign as a device's message may have brought it, in every state. */
function* reported(vital: Vital): Generator<Partial<ReadingVersion>> {
  for (const form of valueForms(vital)) {
    for (const report of REPORTS) {
      for (const state of STATES) {
        const interpretation = form.values?.value === undefined ? {} : { value: 'HH' as const };
        yield {
          vital,
          method: null,
          site: null,
          side: null,
          interpretation,
          ...form,
          ...state,
          report,
        };
      }
    }
  }
}

function render(change: Partial<ReadingVersion>): string {
  return toFhirJson(renderObservation(sampleVersion(change)));
}

describe.each(VITALS)('%s', (vital) => {
  const [loinc, unit, ...profiles] = EXPECTED[vital];

  it.each<[string, (one: Vital) => Generator<Partial<ReadingVersion>>]>([
    ['method, site and side', placings],
    ['value form, state and position', states],
    ['report of a device', reported],
  ])('conforms for every %s', (_, variants) => {
    const faults = [...variants(vital)].flatMap((change) =>
      resourceFaults(render(change)).map((fault) => `${JSON.stringify(change)}: ${fault}`),
    );
    expect(faults).toEqual([]);
  });

  it('puts the required code first, in the unit and under the profiles of the standard', () => {
    for (const change of placings(vital)) {
      const observation = JSON.parse(render(change)) as Observation;
      const quantities = [observation, ...(observation.component ?? [])].flatMap(
        ({ valueQuantity }) => valueQuantity?.code ?? [],
      );
      expect(observation.code.coding?.[0]).toMatchObject({
        system: 'http://loinc.org',
        code: loinc,
      });
      expect(observation.meta?.profile).toEqual(profiles);
      expect(quantities.every((one) => one === unit)).toBe(true);
    }
  });

  it('keeps what makes a reading different from its neighbour', () => {
    const all = [...placings(vital)].map((change) => {
      const { method, site, side } = change;
      const {
        code,
        method: by,
        bodySite,
      } = JSON.parse(
        render({
          ...sampleVersion(),
          vital,
          method: method ?? null,
          site: site ?? null,
          side: side ?? null,
        }),
      ) as Observation;
      return JSON.stringify([code, by, bodySite]);
    });
    expect(new Set(all).size).toBe(all.length);
  });
});
