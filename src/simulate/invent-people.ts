/** People of a ward of any size: invented, and the same for a number whenever and wherever they are made. */
import { noiseOf } from '../demo/noise.js';
import { WARD, birthDateOf, mrnOf } from '../demo/ward.js';
import type { WardPatient } from '../demo/ward.js';
import { YEAR_MS, ageYearsAt, takenAtAge, usualAt } from './person.js';
import type { Person } from './person.js';

const FAMILY_NAMES = [
  'Alderwick',
  'Bramling',
  'Cobnut',
  'Dunnock',
  'Elmstead',
  'Fallowell',
  'Gorsedale',
  'Hazelrigg',
  'Ivendon',
  'Juniper',
  'Kestrel',
  'Lindwater',
  'Medlar',
  'Nightjar',
  'Orchardson',
  'Pipit',
  'Quincewell',
  'Redshank',
  'Spindle',
  'Teasel',
  'Umberleigh',
  'Vetchling',
  'Whinchat',
  'Yarrowby',
  'Zelkova',
] as const;
const GIVEN_NAMES = [
  'Anouk',
  'Bastian',
  'Corin',
  'Delphine',
  'Emeka',
  'Farida',
  'Gustav',
  'Hanne',
  'Ishaan',
  'Jolanta',
  'Kwame',
  'Leocadia',
  'Matteo',
  'Noor',
  'Oskar',
  'Paloma',
  'Quentin',
  'Rosalind',
  'Silas',
  'Tamsin',
  'Ulla',
  'Viktor',
  'Wanda',
] as const;

const YOUNGEST_MS = Date.UTC(2019, 0, 1);
const OLDEST_MS = Date.UTC(1931, 0, 1);
/** Every fifth person was born in these last years. */
const CHILD_YEARS = 8;

function inventBirthDate(number: number): string {
  const noise = noiseOf(`born ${number}`);
  const fromMs = number % 5 === 0 ? YOUNGEST_MS - CHILD_YEARS * YEAR_MS : OLDEST_MS;
  const toMs = number % 5 === 0 ? YOUNGEST_MS : YOUNGEST_MS - 2 * CHILD_YEARS * YEAR_MS;
  return new Date(noise.between(fromMs, toMs)).toISOString().slice(0, 10);
}

/** @param number from 0 */
export function inventPerson(number: number, nowMs: number): Person {
  const birthDate = inventBirthDate(number);
  const ageYears = ageYearsAt(birthDate, nowMs);
  const family = FAMILY_NAMES[number % FAMILY_NAMES.length] ?? FAMILY_NAMES[0];
  const given = GIVEN_NAMES[number % GIVEN_NAMES.length] ?? GIVEN_NAMES[0];
  return {
    identifier: mrnOf(`LF-${40_001 + number}`),
    ...{ familyName: family, givenName: given, birthDate },
    gender: number % 2 === 0 ? 'female' : 'male',
    taken: takenAtAge(ageYears),
    usual: usualAt(ageYears, noiseOf(`usual ${number}`)),
    visit: { system: 'urn:example:visit', value: `V-${140_001 + number}` },
    place: `larkfield/${101 + number}`,
  };
}

/** Somebody of the demo ward. */
function personOfWard(patient: WardPatient, nowMs: number): Person {
  const { mrn, familyName, givenName, gender, taken, usual, fever, fahrenheit, visit, bed } =
    patient;
  return {
    identifier: mrnOf(mrn),
    ...{ familyName, givenName, gender, taken, usual },
    birthDate: birthDateOf(patient, nowMs),
    ...(fever && { fever }),
    ...(fahrenheit && { fahrenheit }),
    visit: { system: 'urn:example:visit', value: visit },
    place: `larkfield/${bed}`,
  };
}

/** So many invented people: those of the demo ward first. */
export function inventPeople(count: number, nowMs: number): readonly Person[] {
  const ward = WARD.slice(0, count).map((patient) => personOfWard(patient, nowMs));
  const more = Math.max(0, count - ward.length);
  return [...ward, ...Array.from({ length: more }, (_, number) => inventPerson(number, nowMs))];
}
