/** What went wrong on the ward that week: each a change to one round's set, so that every verdict occurs. */
import type { IncomingReading, IncomingSet } from '../vitals/shapes.js';
import type { Method, Vital } from '../vitals/words.js';
import { mrnOf } from './ward.js';

export interface Incident {
  readonly mrn: string;
  /** From 0, the oldest, to 27, the newest. */
  readonly round: number;
  readonly change: (set: IncomingSet) => IncomingSet;
}

type Change = Incident['change'];
type Patch = (reading: IncomingReading) => IncomingReading;

/** Replaces the readings of a sign, of one method if there are several. */
function amend(vital: Vital, patch: Patch, method?: Method): Change {
  const isMeant = (reading: IncomingReading): boolean =>
    reading.vital === vital && (method === undefined || reading.method === method);
  return (set) => ({
    ...set,
    readings: set.readings.map((reading) => (isMeant(reading) ? patch(reading) : reading)),
  });
}

function both(first: Change, second: Change): Change {
  return (set) => second(first(set));
}

function pressure(method: Method, systolic: number, diastolic: number, mean?: number): Change {
  const numbers = { systolic, diastolic, ...(mean !== undefined && { mean }) };
  return amend('blood-pressure', (reading) => ({ ...reading, ...numbers }), method);
}

function withValue(vital: Vital, value: number, unit: string, method?: Method): Change {
  return amend(vital, (reading) => ({ ...reading, value, unit }), method);
}

function pulseCount(count: number): Change {
  return amend('pulse-rate', (reading) => ({ ...reading, count }), 'palpation');
}

/** Nothing but what tells where and by whom remains of a reading that was not taken. */
function notTaken(vital: Vital, absent: 'refused' | 'not-done', method?: Method): Change {
  const left: Patch = (reading) => ({
    vital: reading.vital,
    ...(reading.method && { method: reading.method }),
    absent,
  });
  return amend(vital, left, method);
}

function breathsConfirmed(count: number): Change {
  const note = 'Counted twice. The doctor on call has been told.';
  return amend('respiratory-rate', (reading) => ({ ...reading, count, confirmed: true, note }));
}

const NOTED: readonly Incident[] = [
  {
    mrn: 'LF-20417',
    round: 24,
    change: both(pressure('auscultation', 126, 78), pressure('oscillometry', 143, 82, 104)),
  },
  {
    mrn: 'LF-20388',
    round: 22,
    change: both(pulseCount(74), withValue('pulse-rate', 89, '/min', 'pulse-oximetry')),
  },
  { mrn: 'LF-20533', round: 20, change: breathsConfirmed(13) },
  {
    mrn: 'LF-20301',
    round: 18,
    change: (set) => ({ ...set, patient: { identifier: mrnOf('LF-20301') } }),
  },
  { mrn: 'LF-20873', round: 23, change: notTaken('blood-pressure', 'refused') },
  { mrn: 'LF-20301', round: 24, change: notTaken('body-weight', 'not-done') },
];

const HELD: readonly Incident[] = [
  // By stethoscope and by automatic cuff: too far apart, and nothing critical.
  {
    mrn: 'LF-20519',
    round: 26,
    change: both(pressure('auscultation', 136, 84), pressure('oscillometry', 171, 92, 120)),
  },
  // The same with a critical systolic: both sides go out at once, marked as unconfirmed.
  {
    mrn: 'LF-20388',
    round: 27,
    change: both(pressure('auscultation', 78, 48), pressure('oscillometry', 113, 66, 82)),
  },
  {
    mrn: 'LF-20702',
    round: 25,
    change: both(pulseCount(34), withValue('pulse-rate', 97, '/min', 'pulse-oximetry')),
  },
  // A slip of the finger: 84.6 kg.
  { mrn: 'LF-20555', round: 24, change: withValue('body-weight', 284.6, 'kg') },
  // Kilopascal in a mmHg field.
  { mrn: 'LF-20533', round: 26, change: pressure('oscillometry', 16, 10, 12) },
  {
    mrn: 'LF-20640',
    round: 25,
    change: (set) => ({ ...set, patient: { ...set.patient, birthDate: '1981-04-06' } }),
  },
];

const REJECTED: readonly Incident[] = [
  // Fahrenheit in a Celsius field.
  { mrn: 'LF-20555', round: 21, change: withValue('body-temperature', 99.7, 'Cel') },
  { mrn: 'LF-20417', round: 19, change: pressure('auscultation', 1108, 74) },
  { mrn: 'LF-20466', round: 23, change: pressure('auscultation', 78, 124) },
  { mrn: 'LF-20640', round: 20, change: withValue('pulse-rate', 88, 'bpm', 'pulse-oximetry') },
  // The probe had slipped off.
  {
    mrn: 'LF-20951',
    round: 26,
    change: both(
      withValue('oxygen-saturation', 0, '%'),
      withValue('pulse-rate', 0, '/min', 'pulse-oximetry'),
    ),
  },
];

export const INCIDENTS: readonly Incident[] = [...NOTED, ...HELD, ...REJECTED];
