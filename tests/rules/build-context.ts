/** Builds judging contexts by hand: sound readings of a known adult, changed where a test needs it. */
import { CATALOGUE } from '../../src/vitals/catalogue.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type {
  EarlierReading,
  JudgingContext,
  Measured,
  Moment,
  PastReading,
  Reading,
  RegisteredPatient,
} from '../../src/vitals/shapes.js';
import type { Part, Vital } from '../../src/vitals/words.js';

export const NOON: Moment = { epochMs: Date.UTC(2026, 2, 14, 11, 0), offsetMinutes: 60 };

export const minutesFromNoon = (minutes: number): Moment => ({
  ...NOON,
  epochMs: NOON.epochMs + minutes * 60_000,
});

export const measured = (written: number | string): Measured => ({
  text: String(written),
  number: Number(written),
});

type Numbers = Partial<Record<Part, number | string>>;

/** A reading of a sign with its usual method; numbers in the canonical unit. */
export function reading(vital: Vital, numbers: Numbers, changes: Partial<Reading> = {}): Reading {
  const values: Partial<Record<Part, Measured>> = {};
  for (const [part, written] of Object.entries(numbers)) {
    values[part as Part] = measured(written);
  }
  return {
    index: 0,
    vital,
    method: null,
    site: null,
    side: null,
    position: null,
    takenAt: NOON,
    unit: CATALOGUE[vital].unit,
    values,
    code: null,
    absent: null,
    entered: null,
    context: {},
    device: null,
    note: null,
    faults: [],
    sentUnit: CATALOGUE[vital].unit,
    ...changes,
  };
}

export const respiratoryRate = (value: number, changes: Partial<Reading> = {}): Reading =>
  reading('respiratory-rate', { value }, { method: 'counted', ...changes });

export const palpatedPulse = (value: number, changes: Partial<Reading> = {}): Reading =>
  reading('pulse-rate', { value }, { method: 'palpation', site: 'radial-artery', ...changes });

export const oximeterPulse = (value: number, changes: Partial<Reading> = {}): Reading =>
  reading('pulse-rate', { value }, { method: 'pulse-oximetry', site: 'finger', ...changes });

export const saturation = (value: number, changes: Partial<Reading> = {}): Reading =>
  reading('oxygen-saturation', { value }, { method: 'pulse-oximetry', ...changes });

export const temperature = (value: number | string, changes: Partial<Reading> = {}): Reading =>
  reading('body-temperature', { value }, { site: 'oral', ...changes });

type Pressures = readonly [systolic: number | null, diastolic: number | null, mean?: number | null];

function pressureBy(
  method: Reading['method'],
  [systolic, diastolic, mean = null]: Pressures,
  changes: Partial<Reading>,
): Reading {
  const numbers: Numbers = {
    ...(systolic === null ? {} : { systolic }),
    ...(diastolic === null ? {} : { diastolic }),
    ...(mean === null ? {} : { mean }),
  };
  return reading('blood-pressure', numbers, { method, ...changes });
}

export const manualPressure = (pressures: Pressures, changes: Partial<Reading> = {}): Reading =>
  pressureBy('auscultation', pressures, changes);

export const cuffPressure = (pressures: Pressures, changes: Partial<Reading> = {}): Reading =>
  pressureBy('oscillometry', pressures, changes);

export const linePressure = (pressures: Pressures, changes: Partial<Reading> = {}): Reading =>
  pressureBy('invasive', pressures, changes);

export const ADULT: RegisteredPatient = {
  birthDate: '1961-05-23',
  familyName: 'Thornbury',
  gender: 'female',
};

/** A set of readings of a known adult, sent by a person with two identifiers. */
export function contextOf(
  readings: readonly Reading[],
  changes: Partial<Omit<JudgingContext, 'set'>> & {
    readonly set?: Partial<JudgingContext['set']>;
  } = {},
): JudgingContext {
  const { set, ...others } = changes;
  const patient = others.patient === undefined ? ADULT : others.patient;
  return {
    receivedAtMs: NOON.epochMs + 30_000,
    encounterOfAnother: false,
    source: { attended: true, secondIdentifierRequired: false },
    earlier: [],
    history: [],
    limits: DEFAULT_LIMITS,
    ...others,
    patient,
    set: {
      setId: 'b6f6a1d2-3c0d-4f6e-9a43-1de0c7a2f511',
      patient: {
        identifier: { system: 'urn:example:mrn', value: 'LF-30982' },
        ...(patient?.familyName ? { familyName: patient.familyName } : {}),
      },
      encounter: null,
      recorder: null,
      location: 'larkfield/7',
      takenAt: NOON,
      readings: readings.map((each, index) => ({ ...each, index })),
      ...set,
    },
  };
}

/** The same patient at an age told by the birth date (at the time of {@link NOON}: 2026-03-14). */
export const bornOn = (
  birthDate: string | null,
  gender: RegisteredPatient['gender'] = 'female',
): RegisteredPatient => ({ birthDate, familyName: 'Thornbury', gender });

export const UNATTENDED = { attended: false, secondIdentifierRequired: false };

/** A reading that was kept before. */
export const kept = (
  from: Reading,
  changes: Partial<Omit<EarlierReading, keyof Reading>> = {},
): EarlierReading => ({
  ...from,
  readingId: '0197c0de-0000-7000-8000-000000000001',
  verdict: 'accepted',
  hold: null,
  status: 'final',
  ...changes,
});

/** A reading of the days before, kept and undoubted, so many minutes before {@link NOON}. */
export const past = (
  from: Reading,
  minutesBefore: number,
  changes: Partial<PastReading> = {},
): PastReading => {
  const takenAt = minutesFromNoon(-minutesBefore);
  const readingId = `0197c0de-0000-7000-8000-${String(minutesBefore).padStart(12, '0')}`;
  const receivedAtMs = takenAt.epochMs + 30_000;
  return { ...from, takenAt, readingId, receivedAtMs, verdict: 'accepted', ...changes };
};
