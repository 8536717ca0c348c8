/**
 * A second ward, Fernbank, and its last three weeks: fewer signs, always the same way, and habits that the
 * pages of figures are meant to show. The cuff BP-7 begins to read high, most pressures by stethoscope are
 * rounded to tens, N-409 writes 18 breaths for everybody, N-417 writes down late.
 */
import type { IncomingReading, IncomingSet } from '../vitals/shapes.js';
import type { Noise } from './noise.js';
import { noiseOf } from './noise.js';
import { signsAt } from './signs.js';
import type { Signs } from './signs.js';
import { device, setIdOf, writtenTime } from './take-set.js';
import { birthDateOf, mrnOf, usual } from './ward.js';
import type { WardPatient } from './ward.js';
import type { ArrivingSet } from './week.js';

const MINUTE_MS = 60_000;
const ROUND_MS = 8 * 60 * MINUTE_MS;
const ROUNDS = 63;
/** The round from which on BP-7 reads high. */
const HIGH_FROM = 30;
const HIGH_BY = 9;

const NURSES = ['N-402', 'N-409', 'N-417'] as const;
type Nurse = (typeof NURSES)[number];

export const FERNBANK: readonly WardPatient[] = [
  {
    ...{ mrn: 'LF-30115', visit: 'V-90215', bed: 1, familyName: 'Plover', givenName: 'Ada' },
    ...{
      gender: 'female',
      born: '1941-06-12',
      taken: 'adult',
      usual: usual(19, 74, 96, [142, 78], 36.6, 58.4, 160),
    },
  },
  {
    ...{ mrn: 'LF-30122', visit: 'V-90221', bed: 2, familyName: 'Quill', givenName: 'Bertram' },
    ...{
      gender: 'male',
      born: '1950-01-25',
      taken: 'adult',
      usual: usual(13, 68, 97, [128, 74], 36.5, 80.2, 175),
    },
  },
  {
    ...{ mrn: 'LF-30138', visit: 'V-90230', bed: 3, familyName: 'Sallow', givenName: 'Catrin' },
    ...{
      gender: 'female',
      born: '1963-10-03',
      taken: 'adult',
      usual: usual(22, 82, 97, [118, 70], 36.8, 69.9, 167),
    },
  },
  {
    ...{ mrn: 'LF-30144', visit: 'V-90238', bed: 4, familyName: 'Whin', givenName: 'Desmond' },
    ...{
      gender: 'male',
      born: '1947-03-30',
      taken: 'adult',
      usual: usual(26, 88, 95, [154, 86], 36.6, 91.0, 172),
    },
  },
  {
    ...{ mrn: 'LF-30151', visit: 'V-90244', bed: 5, familyName: 'Yarrow', givenName: 'Elin' },
    ...{
      gender: 'female',
      born: '1972-12-19',
      taken: 'adult',
      usual: usual(15, 70, 98, [110, 66], 36.7, 63.3, 164),
    },
  },
];

/** Two of three are rounded to tens, the others read to the nearest mark. */
function byEar(pressure: number, noise: Noise): number {
  const step = noise.between(0, 3) < 2 ? 10 : 2;
  return step * Math.round((pressure + noise.around(4)) / step);
}

function pressures(
  { bed }: WardPatient,
  signs: Signs,
  round: number,
  noise: Noise,
): IncomingReading[] {
  const arm = {
    vital: 'blood-pressure',
    site: 'upper-arm',
    side: 'left',
    unit: 'mm[Hg]',
    cuffSize: 'adult',
  } as const;
  // Two cuffs go from bed to bed.
  const cuff = (bed + round) % 2 === 0 ? 'BP-6' : 'BP-7';
  const off = cuff === 'BP-7' && round >= HIGH_FROM ? HIGH_BY : 0;
  const shown = (pressure: number, high: number): number =>
    Math.round(pressure + high + noise.around(4));
  const [systolic, diastolic] = [shown(signs.systolic, off), shown(signs.diastolic, off / 2)];
  return [
    {
      ...{ ...arm, method: 'auscultation' },
      ...{ systolic: byEar(signs.systolic, noise), diastolic: byEar(signs.diastolic, noise) },
    },
    { ...{ ...arm, method: 'oscillometry' }, systolic, diastolic, ...device(cuff) },
  ];
}

function pulses(
  { bed }: WardPatient,
  { pulse, saturation }: Signs,
  noise: Noise,
): IncomingReading[] {
  const oximeter = { method: 'pulse-oximetry', ...device(`OX-${4 + (bed % 2)}`) } as const;
  return [
    {
      ...{ vital: 'pulse-rate', method: 'palpation', site: 'radial-artery', side: 'left' },
      ...{ count: Math.round(pulse / 2), seconds: 30, regular: true },
    },
    {
      ...{ vital: 'oxygen-saturation', site: 'finger', ...oximeter },
      ...{ value: Math.min(100, Math.round(saturation)), unit: '%' },
    },
    {
      ...{ vital: 'pulse-rate', ...oximeter },
      ...{ value: Math.round(pulse + noise.around(3)), unit: '/min' },
    },
  ];
}

function breaths(nurse: Nurse, signs: Signs): IncomingReading {
  const count = nurse === 'N-409' ? 9 : Math.round(signs.breaths / 2);
  return { vital: 'respiratory-rate', method: 'counted', count, seconds: 30 };
}

function arrivalAt(resident: WardPatient, round: number, fromMs: number): ArrivingSet {
  const name = `${resident.mrn} fernbank ${round}`;
  const noise = noiseOf(name);
  const atMs = fromMs + round * ROUND_MS + (resident.bed * 4 + noise.between(0, 3)) * MINUTE_MS;
  const nurse = NURSES[round % NURSES.length] ?? NURSES[0];
  const signs = signsAt(resident, atMs, fromMs, noise);
  const set: IncomingSet = {
    setId: setIdOf(name),
    patient: { identifier: mrnOf(resident.mrn), birthDate: birthDateOf(resident, atMs) },
    encounter: { identifier: { system: 'urn:example:visit', value: resident.visit } },
    takenAt: writtenTime(atMs),
    recorder: { identifier: { system: 'urn:example:staff', value: nurse } },
    location: `fernbank/${resident.bed}`,
    position: 'sitting',
    readings: [
      breaths(nurse, signs),
      ...pulses(resident, signs, noise),
      ...pressures(resident, signs, round, noise),
    ],
  };
  const lateMinutes = nurse === 'N-417' ? noise.between(30, 80) : noise.between(2, 9);
  return { from: 'ward', set, receivedAtMs: atMs + lateMinutes * MINUTE_MS };
}

/** Its sets, in the order in which they arrive; the last two hours before `nowMs`. */
export function fernbankBefore(nowMs: number): ArrivingSet[] {
  const fromMs = nowMs - 2 * 60 * MINUTE_MS - (ROUNDS - 1) * ROUND_MS;
  return FERNBANK.flatMap((resident) =>
    Array.from({ length: ROUNDS }, (_, round) => arrivalAt(resident, round, fromMs)),
  ).sort((a, b) => a.receivedAtMs - b.receivedAtMs);
}
