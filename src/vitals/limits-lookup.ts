/**
 * Look-up in the interpretation bands: which band is this patient's, and what do the bands of all ages
 * say together when the age is not known.
 */
import { isYounger, type Age, type AgePoint } from './age-span.js';
import type { Band, BandCode, BandRow } from './limits-band.js';
import { BAND_DEFAULTS, bandId, type BandDefaults } from './limits-bands.js';
import type { Limit } from './limits-sources.js';
import type { Gender, Part, Vital } from './words.js';

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

type Sex = 'male' | 'female' | 'unknown';
type Resolve = (id: string) => Limit;

/** The band of a row as the settings have it; of both sexes the lower limit where the sex is not known. */
export function resolveBand(
  defaults: BandDefaults,
  row: BandRow,
  sex: Sex,
  resolve: Resolve,
): Band {
  const at = (code: BandCode): Limit | null => {
    const written = row[code];
    if (written === null) return null;
    if ('at' in written) return resolve(bandId(defaults, row, 'any', code));
    if (sex !== 'unknown') return resolve(bandId(defaults, row, sex, code));
    const male = resolve(bandId(defaults, row, 'male', code));
    const female = resolve(bandId(defaults, row, 'female', code));
    return female.at < male.at ? female : male;
  };
  return {
    until: row.until,
    label: row.label,
    criticalLow: at('criticalLow'),
    low: at('low'),
    high: at('high'),
    criticalHigh: at('criticalHigh'),
  };
}

export type BandLookup = (vital: Vital, part: Part, gender: Gender) => BandTable | null;

/** The look-up of an edition, worked out once. */
export function buildBandLookup(resolve: Resolve): BandLookup {
  const tableOf = (defaults: BandDefaults, sex: Sex): BandTable =>
    table(
      defaults.decimals,
      defaults.rows.map((row) => resolveBand(defaults, row, sex, resolve)),
    );
  const bySex = (defaults: BandDefaults): Readonly<Record<Sex, BandTable>> => ({
    male: tableOf(defaults, 'male'),
    female: tableOf(defaults, 'female'),
    unknown: tableOf(defaults, 'unknown'),
  });
  const values: Partial<Record<Vital, Readonly<Record<Sex, BandTable>>>> = {};
  const pressures: Partial<Record<Part, Readonly<Record<Sex, BandTable>>>> = {};
  for (const defaults of BAND_DEFAULTS) {
    if (defaults.part === 'value') values[defaults.vital] = bySex(defaults);
    else pressures[defaults.part] = bySex(defaults);
  }
  return (vital, part, gender) => {
    const tables = part === 'value' ? values[vital] : pressures[part];
    return tables?.[gender === 'male' || gender === 'female' ? gender : 'unknown'] ?? null;
  };
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
export function toResolution({ decimals }: Pick<BandTable, 'decimals'>, value: number): number {
  const millionths = Math.round(value * 1e6);
  return decimals === 0
    ? Math.floor((millionths + 5e5) / 1e6)
    : Math.floor((millionths + 5e4) / 1e5) / 10;
}
