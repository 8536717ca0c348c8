/**
 * What the gateway publishes comes in again as the same reading: every sign by every method, at every
 * place, in every position, with its digits, its time and the names of all who took part.
 */
import fc from 'fast-check';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderShown } from '../../../src/serve/fhir/render-derived.js';
import { renderObservation } from '../../../src/serve/fhir/render-observation.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import type { IncomingReading, ReadingVersion } from '../../../src/vitals/shapes.js';
import {
  ABSENT_REASONS,
  CONSCIOUSNESS_CODES,
  INTERPRETATIONS,
  POSITIONS,
  SIDES,
  VITALS,
} from '../../../src/vitals/words.js';
import type { Vital } from '../../../src/vitals/words.js';
import { PRESSURE, sampleVersion } from '../../serve/fhir/sample-version.js';
import { readText } from './read-one.js';

const digits = fc
  .tuple(fc.integer({ min: 0, max: 400 }), fc.integer({ min: 0, max: 3 }), fc.nat(999))
  .map(([whole, places, rest]) =>
    places === 0 ? String(whole) : `${whole}.${String(rest).padStart(3, '0').slice(0, places)}`,
  );
const orNull = <T>(list: readonly T[]): fc.Arbitrary<T | null> => fc.constantFrom(null, ...list);

/** What is measured of a sign: numbers, a code, or nothing for a reason. */
function valuesOf(vital: Vital): fc.Arbitrary<Partial<ReadingVersion>> {
  const { form, values } = CATALOGUE[vital];
  const absent = fc
    .constantFrom(...ABSENT_REASONS)
    .map((reason) => ({ absent: reason, values: {} }));
  if (form === 'code') {
    return fc.oneof(
      fc.constantFrom(...CONSCIOUSNESS_CODES).map((code) => ({ code, values: {} })),
      absent,
    );
  }
  const [first = 'value', ...others] = values;
  const numbers = fc.record(
    Object.fromEntries([first, ...others].map((part) => [part, digits])),
    form === 'pressure' ? { requiredKeys: [first] } : {},
  ) as fc.Arbitrary<ReadingVersion['values']>;
  return fc.oneof(
    numbers.map((measured) => ({ values: measured })),
    absent,
  );
}

const someVersion: fc.Arbitrary<ReadingVersion> = fc.constantFrom(...VITALS).chain((vital) => {
  const { methodsTaken, sitesTaken } = CATALOGUE[vital];
  return fc
    .record({
      method: orNull(methodsTaken),
      site: orNull(sitesTaken),
      side: orNull(SIDES),
      position: orNull(POSITIONS),
      offsetMinutes: fc.constantFrom(0, 60, -210, 330, 840),
      epochMs: fc.integer({ min: Date.UTC(2001, 0), max: Date.UTC(2030, 0) }),
      status: fc.constantFrom('final' as const, 'preliminary' as const),
      interpretation: fc.constantFrom(...INTERPRETATIONS),
      note: orNull(['Says she feels cold.', 'two\nlines']),
      value: valuesOf(vital),
    })
    .map(({ value, offsetMinutes, epochMs, interpretation, ...told }) =>
      sampleVersion({
        ...told,
        ...value,
        vital,
        takenAt: { epochMs, offsetMinutes },
        receivedAtMs: epochMs,
        interpretation: value.values?.value === undefined ? {} : { value: interpretation },
      }),
    );
});

/** The reading that a version would be, were it sent. */
function expected(version: ReadingVersion): Partial<IncomingReading> {
  const { vital, site, side, position, values, code, absent, device } = version;
  const { unit } = CATALOGUE[vital];
  // LOINC 59408-5 stands on every saturation.
  const method = vital === 'oxygen-saturation' ? 'pulse-oximetry' : version.method;
  const told = { method, site, side, position, code, absent, ...values };
  const measured = Object.keys(values).length > 0;
  return {
    vital,
    ...Object.fromEntries(Object.entries(told).filter(([, value]) => value !== null)),
    ...(measured && { unit: unit ?? '' }),
    ...(device !== null && { device: { identifier: device } }),
  };
}

function comeIn(version: ReadingVersion): ReturnType<typeof readText> {
  return readText(`[${toFhirJson(renderObservation(version))}]`, [{}]);
}

it('reads what is rendered as the reading that it was', () => {
  fc.assert(
    fc.property(someVersion, (version) => {
      const { sets, fates } = comeIn(version);
      expect(fates).toEqual([{ kind: 'reading', places: [0] }]);
      const [set] = sets;
      expect(set).toMatchObject({
        patient: { identifier: version.patient.identifier },
        encounter: { identifier: version.encounter },
        recorder: { identifier: version.recorder },
      });
      const { takenAt, note, report, index, ...reading } = set?.readings[0] ?? {};
      expect(reading).toEqual(expected(version));
      expect(index).toBe(0);
      expect(Date.parse(takenAt ?? '')).toBe(version.takenAt.epochMs);
      expect(report).toEqual({
        at: 'entry 0',
        ...(version.status === 'preliminary' && { reviewed: false }),
        identifiers: [{ system: 'urn:ietf:rfc:3986', value: `urn:uuid:${version.setId ?? ''}#2` }],
      });
      expect(note ?? '').toBe(version.note ?? '');
    }),
    { numRuns: 500 },
  );
});

it('takes no value that was calculated for one that was measured', () => {
  const pressure = sampleVersion({
    ...PRESSURE,
    derived: { 'mean-pressure': '93', 'pulse-pressure': '52', factor: '0.33' },
  });
  for (const shown of ['mean-pressure', 'pulse-pressure'] as const) {
    const one = { ...pressure, shown, observationId: `${pressure.readingId}-x` };
    const { sets, fates } = readText(`[${toFhirJson(renderShown(one))}]`, [{}]);
    expect(fates).toMatchObject([{ kind: 'unread', reason: 'not-a-vital-sign' }]);
    expect(sets.flatMap(({ readings }) => readings)).toEqual([]);
  }
});
