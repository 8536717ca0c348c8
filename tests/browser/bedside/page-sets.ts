/** Sets as the bedside page makes them, of patients of all ages: for properties. */
import fc from 'fast-check';
import type { SetJson } from '../../../src/browser/bedside/door.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import type { RegisteredPatient } from '../../../src/vitals/shapes.js';
import {
  ABSENT_REASONS,
  CONSCIOUSNESS_CODES,
  CUFF_SIZES,
  POSITIONS,
  SIDES,
  VITALS,
} from '../../../src/vitals/words.js';
import type { Vital } from '../../../src/vitals/words.js';

const BODY = fc.record(
  {
    side: fc.constantFrom(...SIDES),
    position: fc.constantFrom(...POSITIONS),
    confirmed: fc.boolean(),
    regular: fc.boolean(),
    cuffSize: fc.constantFrom(...CUFF_SIZES),
    armCircumferenceCm: fc.integer({ min: 10, max: 60 }),
    armAtHeartLevel: fc.boolean(),
    inflatedTo: fc.integer({ min: 100, max: 300 }),
    minutesSinceHotDrink: fc.integer({ min: 0, max: 60 }),
    minutesSinceColdDrink: fc.integer({ min: 0, max: 60 }),
    note: fc.constantFrom('Says she feels cold.', 'Restless'),
  },
  { requiredKeys: [] },
);

/** Mostly what somebody might measure, now and then what nobody could. */
const RANGE: Readonly<Record<string, readonly [number, number]>> = {
  'respiratory-rate': [0, 90],
  'pulse-rate': [0, 320],
  'oxygen-saturation': [20, 105],
  'body-temperature': [20, 110],
  'body-height': [10, 260],
  'body-weight': [0, 400],
  'oxygen-flow': [0, 90],
  'inspired-oxygen': [0, 110],
};

function number(vital: Vital): fc.Arbitrary<number | string> {
  const [min, max] = RANGE[vital] ?? [0, 100];
  const tenths = fc.integer({ min: min * 10, max: max * 10 });
  return fc.oneof(
    fc.integer({ min, max }),
    tenths.map((each) => each / 10),
    tenths.map((each) => (each / 10).toFixed(2)),
  );
}

function valueOf(vital: Vital): fc.Arbitrary<object> {
  const { form, unitsTaken } = CATALOGUE[vital];
  const unit = fc.constantFrom(...unitsTaken, 'furlong');
  const measured = fc.record({ value: number(vital), unit });
  const counted = fc.record({
    count: fc.integer({ min: 0, max: 200 }),
    seconds: fc.constantFrom(15, 30, 60),
  });
  const pressure = fc.integer({ min: 0, max: 320 });
  switch (form) {
    case 'code':
      return fc.record({ code: fc.constantFrom(...CONSCIOUSNESS_CODES) });
    case 'pressure':
      return fc.oneof(
        fc.record({ systolic: pressure, diastolic: pressure, unit }),
        fc.record({ systolic: pressure, diastolic: pressure, mean: pressure, unit }),
        fc.record({ systolic: pressure, unit }),
      );
    case 'number-or-count':
      return fc.oneof(measured, counted);
    case 'number':
      return measured;
  }
}

const READING = fc.constantFrom(...VITALS).chain((vital) => {
  const { methodsTaken, sitesTaken } = CATALOGUE[vital];
  const how = fc.record(
    {
      ...(methodsTaken.length > 0 && { method: fc.constantFrom(...methodsTaken) }),
      ...(sitesTaken.length > 0 && { site: fc.constantFrom(...sitesTaken, 'toe') }),
    },
    { requiredKeys: methodsTaken.length > 0 ? ['method'] : [] },
  );
  const value = fc.oneof(
    { weight: 9, arbitrary: valueOf(vital) },
    { weight: 1, arbitrary: fc.record({ absent: fc.constantFrom(...ABSENT_REASONS) }) },
  );
  return fc
    .tuple(how, value, BODY)
    .map(([one, other, body]) => ({ vital, ...one, ...other, ...body }));
});

const DAY = fc
  .date({ min: new Date('1930-01-01'), max: new Date('2026-03-02'), noInvalidDate: true })
  .map((date) => date.toISOString().slice(0, 10));

export const pageSet: fc.Arbitrary<{ patient: RegisteredPatient; set: SetJson }> = fc
  .record({
    setId: fc.uuid({ version: 4 }),
    birthDate: DAY,
    gender: fc.constantFrom('male', 'female', 'other', 'unknown'),
    claims: fc.record({
      birthDate: fc.boolean(),
      familyName: fc.constantFrom('Tarn', 'Other', null),
    }),
    takenAt: fc.constantFrom('2026-03-02T08:15:00+01:00', '2026-07-04T23:59:59-05:00'),
    readings: fc.array(READING, { minLength: 1, maxLength: 8 }),
  })
  .map(({ setId, birthDate, gender, claims, takenAt, readings }) => ({
    patient: { birthDate, familyName: 'Tarn', gender },
    set: {
      ...{ setId, takenAt },
      patient: {
        identifier: { system: '', value: '' },
        ...(claims.birthDate && { birthDate }),
        ...(claims.familyName !== null && { familyName: claims.familyName }),
      },
      readings,
    },
  }));
