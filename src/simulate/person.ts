/** Whose readings the simulated devices send, and what is usual for somebody of an age. */
import type { Noise } from '../demo/noise.js';
import type { Usual, WardPatient } from '../demo/ward.js';
import type { Identifier } from '../vitals/shapes.js';

/** Somebody whom the gateway knows, or will once registered. */
export interface Person {
  readonly identifier: Identifier;
  readonly familyName?: string;
  readonly givenName?: string;
  /** YYYY-MM-DD, as the register has it. */
  readonly birthDate?: string;
  readonly gender?: 'male' | 'female' | 'other' | 'unknown';
  /** How things are measured on a body of this size. */
  readonly taken: WardPatient['taken'];
  readonly usual: Usual;
  readonly fever?: true;
  readonly fahrenheit?: true;
  readonly visit?: Identifier;
  /** Ward and bed. */
  readonly place?: string;
}

export const YEAR_MS = 365.25 * 24 * 60 * 60 * 1000;

/**
 * Round figures from within what is usual at an age in years: breaths and pulse (/min), systolic and
 * diastolic (mm[Hg]), weight (kg), height (cm). Common practice, no source; between two rows it is a line.
 */
const USUAL_BY_AGE = [
  [0, 42, 136, 74, 44, 3.4, 51],
  [1, 30, 122, 92, 52, 9.8, 75],
  [4, 24, 102, 96, 56, 16.5, 103],
  [10, 19, 86, 104, 64, 33, 139],
  [16, 16, 74, 114, 70, 61, 170],
  [40, 16, 74, 122, 78, 76, 171],
  [70, 17, 73, 134, 78, 73, 168],
  [100, 17, 71, 136, 70, 58, 160],
] as const;
const YOUNGEST = USUAL_BY_AGE[0];
const OLDEST = USUAL_BY_AGE[7];

/** The figures of an age, on the line between the two rows around it. */
function rowAt(ageYears: number): readonly number[] {
  const upper = USUAL_BY_AGE.find(([age]) => age > ageYears) ?? OLDEST;
  const lower = USUAL_BY_AGE.findLast(([age]) => age <= ageYears) ?? YOUNGEST;
  const years = upper[0] - lower[0];
  const share = years === 0 ? 0 : (ageYears - lower[0]) / years;
  return lower.map((low, column) => low + share * ((upper[column] ?? low) - low));
}

/** What is usual for somebody of that age: everybody is a little different. */
export function usualAt(ageYears: number, noise: Noise): Usual {
  const [, breaths = 0, pulse = 0, systolic = 0, diastolic = 0, weight = 0, height = 0] = rowAt(
    ageYears,
  ).map((figure) => figure * (1 + noise.around(0.06)));
  return {
    ...{ breaths, pulse, systolic, diastolic, weight, height },
    saturation: 97 + noise.around(1),
    temperature: 36.75 + noise.around(0.15),
  };
}

export function ageYearsAt(birthDate: string, nowMs: number): number {
  return (nowMs - Date.parse(birthDate)) / YEAR_MS;
}

export function takenAtAge(ageYears: number): WardPatient['taken'] {
  if (ageYears < 1) return 'baby';
  return ageYears < 13 ? 'child' : 'adult';
}
