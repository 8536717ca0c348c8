/** All tables of interpretation bands, from birth to old age, and the ids of their settings. */
import { agesKey, type AgeBound } from './age-span.js';
import { CATALOGUE } from './catalogue.js';
import { ADULT_BANDS, CHILD_SATURATION, CHILD_TEMPERATURE } from './limits-adult.js';
import { BAND_CODES, type BandCode, type BandLimit, type BandRow } from './limits-band.js';
import {
  BREATHING_BANDS,
  CHILD_DIASTOLIC,
  CHILD_SYSTOLIC,
  NEWBORN_TEMPERATURE,
  PULSE_BANDS,
} from './limits-child.js';
import type { Limit } from './limits-sources.js';
import type { Setting, SettingUnit } from './setting.js';
import type { Part, Vital } from './words.js';

export interface BandDefaults {
  readonly vital: Vital;
  readonly part: Exclude<Part, 'mean'>;
  /** Decimals to which a value is rounded before it is compared: the sign's usual resolution. */
  readonly decimals: 0 | 1;
  /** In the order of age; the last one has no end. */
  readonly rows: readonly BandRow[];
}

export const BAND_DEFAULTS: readonly BandDefaults[] = [
  {
    vital: 'respiratory-rate',
    part: 'value',
    decimals: 0,
    rows: [...BREATHING_BANDS, ADULT_BANDS.breathing],
  },
  { vital: 'pulse-rate', part: 'value', decimals: 0, rows: [...PULSE_BANDS, ADULT_BANDS.pulse] },
  {
    vital: 'oxygen-saturation',
    part: 'value',
    decimals: 0,
    rows: [CHILD_SATURATION, ADULT_BANDS.saturation],
  },
  {
    vital: 'body-temperature',
    part: 'value',
    decimals: 1,
    rows: [NEWBORN_TEMPERATURE, CHILD_TEMPERATURE, ADULT_BANDS.temperature],
  },
  {
    vital: 'blood-pressure',
    part: 'systolic',
    decimals: 0,
    rows: [...CHILD_SYSTOLIC, ADULT_BANDS.systolic],
  },
  {
    vital: 'blood-pressure',
    part: 'diastolic',
    decimals: 0,
    rows: [...CHILD_DIASTOLIC, ADULT_BANDS.diastolic],
  },
];

export type SexKey = 'male' | 'female' | 'any';

/** Where the band of a row begins: where the one before it ends; null: at birth. */
export function beginOf(rows: readonly BandRow[], row: BandRow): AgeBound | null {
  return rows[rows.indexOf(row) - 1]?.until ?? null;
}

/** The id of one limit of a band (see `setting.ts`). */
export function bandId(
  { vital, part, rows }: BandDefaults,
  row: BandRow,
  sex: SexKey,
  code: BandCode,
): string {
  const ages = agesKey(beginOf(rows, row), row.until);
  return `band.${vital}.${part}.${sex}.${ages}.${code}`;
}

/** The limits of a cell by the sex that its ids name. */
export function bySexKey(written: BandLimit): readonly (readonly [SexKey, Limit])[] {
  if (written === null) return [];
  if ('at' in written) return [['any', written]];
  return [
    ['male', written.male],
    ['female', written.female],
  ];
}

const CODE_WORDS: Readonly<Record<BandCode, string>> = {
  criticalLow: 'LL at this value and below',
  low: 'N from this value on, L below it',
  high: 'N up to this value, H above it',
  criticalHigh: 'HH at this value and above',
};

/** A sex that a cell names, in words. */
const SEX_WORDS: Readonly<Record<SexKey, string>> = { any: '', male: ', boys', female: ', girls' };

function signWords({ vital, part }: BandDefaults): string {
  return part === 'value'
    ? CATALOGUE[vital].display
    : `${part[0]?.toUpperCase() ?? ''}${part.slice(1)} pressure`;
}

/** Every limit of every band as a setting. The critical ones are read by the rule that calls for help. */
export const BAND_SETTINGS: readonly Setting[] = BAND_DEFAULTS.flatMap((table) =>
  table.rows.flatMap((row) =>
    BAND_CODES.flatMap((code) =>
      bySexKey(row[code]).map(([sex, { at, source }]) => ({
        id: bandId(table, row, sex, code),
        at,
        source,
        unit: CATALOGUE[table.vital].unit as SettingUnit,
        words: `${signWords(table)}, ${row.label}${SEX_WORDS[sex]}: ${CODE_WORDS[code]}.`,
        readBy: code === 'criticalLow' || code === 'criticalHigh' ? ['value-critical'] : [],
      })),
    ),
  ),
);
