/** The ward Larkfield: invented people, from a newborn to old age, with what is usual for each of them. */

/** What a patient's signs are near when nothing is wrong: /min, /min, %, mm[Hg], °C, kg, cm. */
export interface Usual {
  readonly breaths: number;
  readonly pulse: number;
  readonly saturation: number;
  readonly systolic: number;
  readonly diastolic: number;
  readonly temperature: number;
  readonly weight: number;
  readonly height: number;
}

export function usual(
  breaths: number,
  pulse: number,
  saturation: number,
  [systolic, diastolic]: readonly [number, number],
  temperature: number,
  weight: number,
  height: number,
): Usual {
  return { breaths, pulse, saturation, systolic, diastolic, temperature, weight, height };
}

export interface WardPatient {
  readonly mrn: string;
  readonly visit: string;
  readonly bed: number;
  readonly familyName: string;
  readonly givenName: string;
  readonly gender: 'male' | 'female';
  /** A day, or, for those who must not grow out of their age, how many days ago. */
  readonly born: string | { readonly daysAgo: number };
  /** How the ward takes a set: by size of the patient. */
  readonly taken: 'baby' | 'child' | 'adult';
  /** The thermometer at this bed shows Fahrenheit. */
  readonly fahrenheit?: true;
  readonly irregularPulse?: true;
  /** Came with fever, a week ago, and has been getting better since. */
  readonly fever?: true;
  /** L/min of oxygen through a cannula. */
  readonly oxygen?: number;
  readonly usual: Usual;
}

const MRN = 'urn:example:mrn';
const DAY_MS = 24 * 60 * 60 * 1000;

export const MONITORED_MRN = 'LF-20519';

export const WARD: readonly WardPatient[] = [
  {
    mrn: 'LF-20988',
    visit: 'V-88190',
    bed: 1,
    familyName: 'Marsh',
    givenName: 'Ottilie',
    gender: 'female',
    born: { daysAgo: 9 },
    taken: 'baby',
    usual: usual(42, 136, 98, [75, 44], 36.9, 3.42, 51),
  },
  {
    mrn: 'LF-20951',
    visit: 'V-88187',
    bed: 2,
    familyName: 'Birk',
    givenName: 'Tomasz',
    gender: 'male',
    born: { daysAgo: 214 },
    taken: 'baby',
    usual: usual(36, 126, 98, [92, 50], 36.9, 8.1, 69),
  },
  {
    mrn: 'LF-20873',
    visit: 'V-88171',
    bed: 3,
    familyName: 'Quill',
    givenName: 'Amara',
    gender: 'female',
    born: { daysAgo: 920 },
    taken: 'child',
    usual: usual(26, 108, 98, [94, 54], 36.9, 13.2, 91),
  },
  {
    mrn: 'LF-20640',
    visit: 'V-88166',
    bed: 4,
    familyName: 'Fennel',
    givenName: 'Idris',
    gender: 'male',
    born: { daysAgo: 3090 },
    taken: 'child',
    usual: usual(19, 86, 98, [102, 63], 36.8, 26.4, 129),
  },
  {
    mrn: 'LF-20702',
    visit: 'V-88159',
    bed: 5,
    familyName: 'Harrow',
    givenName: 'Nell',
    gender: 'female',
    born: { daysAgo: 5650 },
    taken: 'adult',
    usual: usual(16, 74, 98, [114, 71], 36.7, 52.5, 163),
  },
  {
    mrn: 'LF-20555',
    visit: 'V-88154',
    bed: 6,
    familyName: 'Petrel',
    givenName: 'Jonas',
    gender: 'male',
    born: '2002-03-17',
    taken: 'adult',
    fahrenheit: true,
    fever: true,
    usual: usual(16, 72, 98, [122, 74], 36.8, 84.5, 184),
  },
  {
    mrn: 'LF-20533',
    visit: 'V-88150',
    bed: 7,
    familyName: 'Larkspur',
    givenName: 'Priya',
    gender: 'female',
    born: '1995-07-29',
    taken: 'adult',
    usual: usual(16, 80, 98, [112, 70], 36.9, 66.8, 168),
  },
  {
    mrn: MONITORED_MRN,
    visit: 'V-88144',
    bed: 8,
    familyName: 'Oakhanger',
    givenName: 'Marcus',
    gender: 'male',
    born: '1979-01-08',
    taken: 'adult',
    usual: usual(17, 84, 97, [146, 90], 36.7, 97.2, 179),
  },
  {
    mrn: 'LF-20417',
    visit: 'V-88123',
    bed: 12,
    familyName: 'Rowan',
    givenName: 'Edith',
    gender: 'female',
    born: '1958-11-02',
    taken: 'adult',
    fahrenheit: true,
    usual: usual(16, 76, 97, [130, 78], 36.8, 71.6, 165),
  },
  {
    mrn: 'LF-20466',
    visit: 'V-88131',
    bed: 9,
    familyName: 'Tarn',
    givenName: 'Gwilym',
    gender: 'male',
    born: '1954-05-21',
    taken: 'adult',
    // On oxygen with a prescribed target, which the gateway does not know: it flags every saturation.
    oxygen: 2,
    usual: usual(19, 88, 90, [134, 80], 36.6, 61.9, 172),
  },
  {
    mrn: 'LF-20388',
    visit: 'V-88118',
    bed: 10,
    familyName: 'Sedge',
    givenName: 'Walter',
    gender: 'male',
    born: '1945-02-11',
    taken: 'adult',
    irregularPulse: true,
    usual: usual(17, 82, 96, [124, 72], 36.5, 74.3, 170),
  },
  {
    mrn: 'LF-20301',
    visit: 'V-88109',
    bed: 11,
    familyName: 'Thistlewood',
    givenName: 'Agnes',
    gender: 'female',
    born: '1933-09-30',
    taken: 'adult',
    usual: usual(17, 70, 96, [138, 68], 36.4, 48.7, 152),
  },
];

/** The patient's birth date (YYYY-MM-DD) on a ward that stands as at `nowMs`. */
export function birthDateOf({ born }: WardPatient, nowMs: number): string {
  if (typeof born === 'string') return born;
  return new Date(nowMs - born.daysAgo * DAY_MS).toISOString().slice(0, 10);
}

export function mrnOf(mrn: string): { system: string; value: string } {
  return { system: MRN, value: mrn };
}

/** The patient as the register receives it: what US Core asks for at least, and the birth date. */
export function patientResource(patient: WardPatient, nowMs: number): Record<string, unknown> {
  return {
    resourceType: 'Patient',
    identifier: [mrnOf(patient.mrn)],
    name: [{ family: patient.familyName, given: [patient.givenName] }],
    gender: patient.gender,
    birthDate: birthDateOf(patient, nowMs),
  };
}
