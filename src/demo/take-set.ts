/** Takes a set of a patient of the ward, as people there do. */
import { v5 as uuidv5 } from 'uuid';
import type { IncomingReading, IncomingSet } from '../vitals/shapes.js';
import { noiseOf } from './noise.js';
import type { Noise } from './noise.js';
import { signsAt } from './signs.js';
import type { Signs } from './signs.js';
import { birthDateOf, mrnOf } from './ward.js';
import type { WardPatient } from './ward.js';

export const STAFF = ['N-311', 'N-318', 'N-325', 'N-340'] as const;
/** Random once, so that the sets of the ward have the same ids whenever it is made (RFC 9562 §5.5). */
const SET_IDS = '7a4c8b0e-5a7e-4f0b-a1c4-2d7d6c1f9a35';

export function setIdOf(name: string): string {
  return uuidv5(name, SET_IDS);
}

export function device(value: string): Pick<IncomingReading, 'device'> {
  return { device: { identifier: { system: 'urn:example:device', value } } };
}

/** To the minute, as people write it down. */
export function writtenTime(atMs: number): string {
  return `${new Date(atMs).toISOString().slice(0, 16)}:00Z`;
}

function counted(perMinute: number, seconds: 30 | 60): { count: number; seconds: 30 | 60 } {
  return { count: Math.round((perMinute * seconds) / 60), seconds };
}

function breathing({ taken }: WardPatient, signs: Signs): IncomingReading {
  const seconds = taken === 'adult' ? 30 : 60;
  return { vital: 'respiratory-rate', method: 'counted', ...counted(signs.breaths, seconds) };
}

function pulseByHand(patient: WardPatient, { pulse }: Signs): IncomingReading {
  const how = {
    baby: { method: 'auscultation', site: 'apex' },
    child: { method: 'palpation', site: 'brachial-artery', side: 'left' },
    adult: { method: 'palpation', site: 'radial-artery', side: 'left' },
  } as const;
  const irregular = patient.irregularPulse === true;
  const seconds = patient.taken === 'adult' && !irregular ? 30 : 60;
  return {
    vital: 'pulse-rate',
    ...how[patient.taken],
    ...counted(pulse, seconds),
    regular: !irregular,
  };
}

function oximetry(patient: WardPatient, signs: Signs, noise: Noise): IncomingReading[] {
  const site = patient.taken === 'baby' ? 'foot' : 'finger';
  const how = { method: 'pulse-oximetry', site, ...device(`OX-${patient.bed % 3}`) } as const;
  const saturation = Math.min(100, Math.round(signs.saturation));
  const pulse = Math.round(signs.pulse + noise.around(3));
  return [
    { vital: 'oxygen-saturation', ...how, value: saturation, unit: '%' },
    { vital: 'pulse-rate', ...how, value: pulse, unit: '/min' },
  ];
}

function cuffSizeOf({ taken }: WardPatient): 'infant' | 'child' | 'adult' {
  return taken === 'baby' ? 'infant' : taken;
}

/** By stethoscope, read to the nearest 2 mmHg, and by the automatic cuff; babies by the cuff alone. */
function pressures(patient: WardPatient, signs: Signs, noise: Noise): IncomingReading[] {
  const arm = {
    vital: 'blood-pressure',
    site: 'upper-arm',
    side: 'left',
    unit: 'mm[Hg]',
    cuffSize: cuffSizeOf(patient),
  } as const;
  const even = (pressure: number): number => 2 * Math.round((pressure + noise.around(4)) / 2);
  const systolic = Math.round(signs.systolic + noise.around(4));
  const diastolic = Math.round(signs.diastolic + noise.around(4));
  const share = 0.36 + noise.around(0.04);
  const mean = Math.round(diastolic + share * (systolic - diastolic));
  const manual: IncomingReading = {
    ...arm,
    method: 'auscultation',
    systolic: even(signs.systolic),
    diastolic: even(signs.diastolic),
  };
  const cuff = device(`BP-${patient.bed % 2}`);
  const automatic = { ...arm, method: 'oscillometry', systolic, diastolic, mean, ...cuff } as const;
  return patient.taken === 'adult' ? [manual, automatic] : [automatic];
}

function temperature({ taken, bed, fahrenheit }: WardPatient, signs: Signs): IncomingReading {
  const site = ({ baby: 'axillary', child: 'tympanic', adult: 'oral' } as const)[taken];
  const shown =
    fahrenheit === true
      ? { value: (signs.temperature * 1.8 + 32).toFixed(1), unit: '[degF]' }
      : { value: signs.temperature.toFixed(1), unit: 'Cel' };
  const thermometer = device(fahrenheit === true ? 'TH-9' : `TH-${bed % 4}`);
  return { vital: 'body-temperature', method: 'thermometry', site, ...shown, ...thermometer };
}

/** Weight once a day, height on coming; a baby's weight in grams. */
function size({ taken, usual }: WardPatient, round: number, noise: Noise): IncomingReading[] {
  if (round % 4 !== 0) return [];
  const kilograms = usual.weight * (1 + noise.around(0.004));
  const weight: IncomingReading =
    taken === 'baby'
      ? { vital: 'body-weight', value: 10 * Math.round(kilograms * 100), unit: 'g' }
      : { vital: 'body-weight', value: kilograms.toFixed(1), unit: 'kg' };
  const height: IncomingReading = { vital: 'body-height', value: usual.height, unit: 'cm' };
  return round === 0 ? [weight, height] : [weight];
}

function oxygen({ oxygen: litres }: WardPatient): IncomingReading[] {
  return litres === undefined ? [] : [{ vital: 'oxygen-flow', value: litres, unit: 'L/min' }];
}

/**
 * One round at one bed.
 *
 * @param round counted from the beginning of the week
 */
export function takeSet(
  patient: WardPatient,
  round: number,
  { atMs, weekFromMs, nowMs }: { atMs: number; weekFromMs: number; nowMs: number },
): IncomingSet {
  const name = `${patient.mrn} round ${round}`;
  const noise = noiseOf(name);
  const signs = signsAt(patient, atMs, weekFromMs, noise);
  const nurse = STAFF[(round + patient.bed) % STAFF.length] ?? STAFF[0];
  return {
    setId: setIdOf(name),
    patient: { identifier: mrnOf(patient.mrn), birthDate: birthDateOf(patient, nowMs) },
    encounter: { identifier: { system: 'urn:example:visit', value: patient.visit } },
    takenAt: writtenTime(atMs),
    recorder: { identifier: { system: 'urn:example:staff', value: nurse } },
    location: `larkfield/${patient.bed}`,
    position: patient.taken === 'adult' ? 'sitting' : 'supine',
    readings: [
      breathing(patient, signs),
      pulseByHand(patient, signs),
      ...oximetry(patient, signs, noise),
      ...oxygen(patient),
      ...pressures(patient, signs, noise),
      temperature(patient, signs),
      ...(patient.taken === 'adult' ? [{ vital: 'consciousness', code: 'alert' } as const] : []),
      ...size(patient, round, noise),
    ],
  };
}
