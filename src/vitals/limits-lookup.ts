/**
 * Look-up in the interpretation bands: which band is this patient's, and what do the bands of all ages
 * say together when the age is not known.
 */
import { isYounger, type Age, type AgePoint } from './age.js';
import { ADULT_BANDS, CHILD_SATURATION, CHILD_TEMPERATURE } from './limits-adult.js';
import type { Band } from './limits-band.js';
import {
  BREATHING_BANDS,
  childDiastolicBands,
  childSystolicBands,
  NEWBORN_TEMPERATURE,
  PULSE_BANDS,
  type Sex,
} from './limits-child.js';
import type { RegisteredPatient } from './shapes.js';
import type { Part, Vital } from './words.js';

export type Gender = RegisteredPatient['gender'];

export interface BandTable {
  /** In the order of age; the last one has no end. */
  readonly bands: readonly Band[];
  /** Decimals to which a value is rounded before it is compared: the sign's usual resolution. */
  readonly decimals: 0 | 1;
  /** At or below the first, at or above the second: critical in at least one band. */
  readonly anyLow: number;
  readonly anyHigh: number;
  /** Likewise: critical in every band. */
  readonly everyLow: number;
  readonly everyHigh: number;
}

function table(decimals: 0 | 1, bands: readonly Band[]): BandTable {
  const low = bands.map(({ criticalLow }) => criticalLow?.at ?? -Infinity);
  const high = bands.map(({ criticalHigh }) => criticalHigh?.at ?? Infinity);
  return {
    bands,
    decimals,
    anyLow: Math.max(...low),
    anyHigh: Math.min(...high),
    everyLow: Math.min(...low),
    everyHigh: Math.max(...high),
  };
}

const bySex = (bandsOf: (sex: Sex) => readonly Band[]): Readonly<Record<Sex, BandTable>> => ({
  male: table(0, bandsOf('male')),
  female: table(0, bandsOf('female')),
  unknown: table(0, bandsOf('unknown')),
});

const PRESSURE_TABLES = {
  systolic: bySex((sex) => [...childSystolicBands(sex), ADULT_BANDS.systolic]),
  diastolic: bySex((sex) => [...childDiastolicBands(sex), ADULT_BANDS.diastolic]),
};

const VALUE_TABLES: Readonly<Partial<Record<Vital, BandTable>>> = {
  'respiratory-rate': table(0, [...BREATHING_BANDS, ADULT_BANDS.breathing]),
  'pulse-rate': table(0, [...PULSE_BANDS, ADULT_BANDS.pulse]),
  'oxygen-saturation': table(0, [CHILD_SATURATION, ADULT_BANDS.saturation]),
  'body-temperature': table(1, [NEWBORN_TEMPERATURE, CHILD_TEMPERATURE, ADULT_BANDS.temperature]),
};

/** Bands of one number of a sign; null for what is not interpreted (mean pressure, size, oxygen given). */
export function bandTable(vital: Vital, part: Part, gender: Gender): BandTable | null {
  if (part === 'value') return VALUE_TABLES[vital] ?? null;
  if (part === 'mean') return null;
  return PRESSURE_TABLES[part][gender === 'male' || gender === 'female' ? gender : 'unknown'];
}

/**
 * The band of an age. Null when the age is not known, or known too loosely (a birth date without day or
 * month) to tell two bands apart.
 */
export function bandAt({ bands }: BandTable, age: Age | null): Band | null {
  if (age === null) return null;
  const band = bandOf(bands, age.oldest);
  if (age.youngest !== age.oldest && bandOf(bands, age.youngest) !== band) return null;
  return band;
}

function bandOf(bands: readonly Band[], age: AgePoint): Band | null {
  for (const band of bands) {
    if (band.until === null || isYounger(age, band.until)) return band;
  }
  return null;
}

/** A value rounded half up to a table's resolution; exact for values of up to six decimals. */
export function toResolution({ decimals }: BandTable, value: number): number {
  const millionths = Math.round(value * 1e6);
  return decimals === 0
    ? Math.floor((millionths + 5e5) / 1e6)
    : Math.floor((millionths + 5e4) / 1e5) / 10;
}
