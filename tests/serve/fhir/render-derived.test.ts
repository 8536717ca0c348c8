/** What was calculated from a pressure, in every state, held against R4 and US Core (tests/fhir-validation). */
import type { Observation } from 'fhir/r4.js';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderShown } from '../../../src/serve/fhir/render-derived.js';
import { asShown } from '../../../src/store/shown-observations.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import type { DerivedValues, ReadingVersion } from '../../../src/vitals/shapes.js';
import {
  DERIVED_KINDS,
  OBSERVATION_STATUSES,
  POSITIONS,
  SIDES,
  VITALS,
} from '../../../src/vitals/words.js';
import type { DerivedKind } from '../../../src/vitals/words.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { PRESSURE, sampleVersion } from './sample-version.js';

const BOTH: DerivedValues = { 'pulse-pressure': '52', 'mean-pressure': '93', factor: '1/3' };
const GONE: DerivedValues = { 'pulse-pressure': null, 'mean-pressure': null };

const textOf = (kind: DerivedKind, change: Partial<ReadingVersion> = {}): string =>
  toFhirJson(renderShown(asShown(sampleVersion({ ...PRESSURE, derived: BOTH, ...change }), kind)));
const render = (kind: DerivedKind, change: Partial<ReadingVersion> = {}): Observation =>
  JSON.parse(textOf(kind, change)) as Observation;

function* states(): Generator<Partial<ReadingVersion>> {
  const { methodsTaken, sitesTaken } = CATALOGUE['blood-pressure'];
  const held = { verdict: 'held', hold: 'value' } as const;
  for (const status of OBSERVATION_STATUSES) {
    for (const derived of [BOTH, GONE]) {
      yield { status, derived };
      yield { status, derived, ...held };
      for (const position of POSITIONS) yield { status, derived, position, encounter: null };
    }
  }
  for (const method of methodsTaken) {
    for (const site of [null, ...sitesTaken]) {
      for (const side of [null, ...SIDES]) yield { method, site, side, position: null };
    }
  }
  // A correction may have made another sign of it.
  for (const vital of VITALS) yield { vital, values: {}, derived: GONE };
}

describe.each(DERIVED_KINDS)('%s', (kind) => {
  it('conforms in every state', () => {
    const faults = [...states()].flatMap((change) =>
      resourceFaults(textOf(kind, change)).map((fault) => `${JSON.stringify(change)}: ${fault}`),
    );
    expect(faults).toEqual([]);
  });

  it('has the unit, the profiles and the source of a calculated pressure', () => {
    const { id, meta, valueQuantity, derivedFrom, category } = render(kind);
    expect(meta?.profile).toEqual([
      'http://hl7.org/fhir/StructureDefinition/vitalsigns',
      'http://hl7.org/fhir/us/core/StructureDefinition/us-core-vital-signs',
    ]);
    expect(category?.[0]?.coding?.[0]?.code).toBe('vital-signs');
    expect(valueQuantity).toMatchObject({
      system: 'http://unitsofmeasure.org',
      code: 'mm[Hg]',
      unit: 'mmHg',
    });
    const { readingId } = sampleVersion();
    expect(derivedFrom).toEqual([{ reference: `Observation/${readingId}`, type: 'Observation' }]);
    expect(id).not.toBe(readingId);
  });

  it('keeps every digit, and shows none of the remarks that belong to the pressure alone', () => {
    const change = {
      derived: { 'pulse-pressure': '52.0', 'mean-pressure': '93', factor: '0.4' },
      note: 'Restless.',
      context: { cuffSize: 'adult' },
      entered: { systolic: '17.1', diastolic: '10.1', unit: 'kPa' },
    } as const;
    expect(textOf(kind, change)).toContain(
      kind === 'pulse-pressure' ? '"value":52.0,' : '"value":93,',
    );
    expect(render(kind, change).note).toHaveLength(1);
    expect(textOf(kind, change)).not.toMatch(/Restless|Cuff size|Entered/);
  });

  it('says how late it is', () => {
    const { takenAt } = sampleVersion();
    const late = render(kind, { receivedAtMs: takenAt.epochMs + 5 * 3_600_000 });
    expect(late.meta?.tag?.map(({ code }) => code)).toEqual(['late-arrival']);
    expect(late.note?.[1]?.text).toContain('5 hours after');
  });

  it('is an error once it holds no more, whatever its pressure is out as', () => {
    const gone = render(kind, { derived: GONE, status: 'corrected' });
    expect(gone.status).toBe('entered-in-error');
    expect(gone.dataAbsentReason?.coding?.[0]?.code).toBe('not-applicable');
    expect(gone.valueQuantity).toBeUndefined();
    expect(gone.text?.div).toContain('ENTERED IN ERROR');
  });

  it('is not rendered where there is none', () => {
    expect(() => render(kind, { derived: null })).toThrow('Nothing of this kind');
    expect(() => render(kind, { status: null })).toThrow('Nothing of this kind');
  });
});

// LOINC 8478-0 "Mean blood pressure": FHIR R4 value set observation-vitalsignresult.
it('the mean has the code of a mean, the pulse pressure one of the gateway', () => {
  const codes = DERIVED_KINDS.map((kind) =>
    render(kind).code.coding?.map(({ system, code }) => `${system}|${code}`),
  );
  expect(codes).toEqual([
    ['http://loinc.org|8478-0', 'urn:vital-sign-gateway:derived|mean-pressure'],
    ['urn:vital-sign-gateway:derived|pulse-pressure'],
  ]);
});
