/**
 * Interpretation bands from birth to 18 years.
 *
 * Pulse and breathing: usual from the 1st to the 99th centile (Fleming 2011), critical from the outermost
 * band of the Bedside PEWS (Parshuram 2009). Pressure: low below the PALS range, critically low as PALS
 * defines hypotension, high from AAP 2017 Table 6, critically high from the outermost band of the Bedside
 * PEWS. Published ranges for children differ widely: L and H say little by themselves.
 */
import { band, type BandRow, type Cell } from './limits-band.js';
import {
  AAP_SCREENING,
  BEDSIDE_PEWS,
  FLEMING_BREATHING,
  FLEMING_PULSE,
  limit,
  NEWS2,
  NICE_NG136,
  PALS_HYPOTENSION,
  PALS_RANGE_OLDER,
  PALS_RANGE_YOUNG,
  PROPOSED,
  proposedAfter,
  VERSMOLD,
  WHO_NEWBORN_TEMPERATURE,
  type Source,
} from './limits-sources.js';

const NEWBORN_DAYS = 28;

/** End of the band in months, its name, and the four limits: LL up to, N from, N up to, HH from. */
type MonthRow = readonly [number, string, number, number, number, number];

const bandsFrom = (usual: Source, rows: readonly MonthRow[]): readonly BandRow[] =>
  rows.map(([months, label, criticalLow, low, high, criticalHigh]) =>
    band({ months }, label, [
      [criticalLow, BEDSIDE_PEWS],
      [low, usual],
      [high, usual],
      [criticalHigh, BEDSIDE_PEWS],
    ]),
  );

export const PULSE_BANDS = bandsFrom(FLEMING_PULSE, [
  [3, 'under 3 months', 80, 107, 181, 190],
  [6, '3 to 5 months', 70, 104, 175, 180],
  [9, '6 to 8 months', 70, 98, 168, 180],
  [12, '9 to 11 months', 70, 93, 161, 180],
  [18, '12 to 17 months', 60, 88, 156, 170],
  [24, '18 to 23 months', 60, 82, 149, 170],
  [36, '2 years', 60, 76, 142, 170],
  [48, '3 years', 60, 70, 136, 170],
  // The score prints "above 150" here, where its other cells print "at or above".
  [72, '4 and 5 years', 50, 65, 131, 151],
  [96, '6 and 7 years', 50, 59, 123, 151],
  [144, '8 to 11 years', 50, 52, 115, 151],
  [180, '12 to 14 years', 40, 47, 108, 140],
  [216, '15 to 17 years', 40, 43, 104, 140],
]);

export const BREATHING_BANDS = bandsFrom(FLEMING_BREATHING, [
  [3, 'under 3 months', 15, 25, 66, 91],
  [6, '3 to 5 months', 15, 24, 64, 81],
  [9, '6 to 8 months', 15, 23, 61, 81],
  [12, '9 to 11 months', 15, 22, 58, 81],
  [18, '12 to 17 months', 12, 21, 53, 71],
  [24, '18 to 23 months', 12, 19, 46, 71],
  [36, '2 years', 12, 18, 38, 71],
  [48, '3 years', 12, 17, 33, 71],
  [72, '4 and 5 years', 10, 17, 29, 51],
  [96, '6 and 7 years', 10, 16, 27, 51],
  [144, '8 to 11 years', 10, 14, 25, 51],
  [180, '12 to 14 years', 9, 12, 23, 30],
  [216, '15 to 17 years', 9, 11, 22, 30],
]);

/** Moderate hypothermia and below is critical; fever in a newborn from 38.0 (common practice). */
export const NEWBORN_TEMPERATURE = band({ days: NEWBORN_DAYS }, 'under 28 days', [
  [35.9, WHO_NEWBORN_TEMPERATURE],
  [36.5, WHO_NEWBORN_TEMPERATURE],
  [37.5, WHO_NEWBORN_TEMPERATURE],
  [38.0, PROPOSED],
]);

interface ScreeningRow {
  readonly year: number;
  readonly male: readonly [systolic: number, diastolic: number];
  readonly female: readonly [systolic: number, diastolic: number];
}

/** H at or above: the 90th centile at the 5th centile of height, so for screening out only. */
const SCREENING: readonly ScreeningRow[] = [
  { year: 1, male: [98, 52], female: [98, 54] },
  { year: 2, male: [100, 55], female: [101, 58] },
  { year: 3, male: [101, 58], female: [102, 60] },
  { year: 4, male: [102, 60], female: [103, 62] },
  { year: 5, male: [103, 63], female: [104, 64] },
  { year: 6, male: [105, 66], female: [105, 67] },
  { year: 7, male: [106, 68], female: [106, 68] },
  { year: 8, male: [107, 69], female: [107, 69] },
  { year: 9, male: [107, 70], female: [108, 71] },
  { year: 10, male: [108, 72], female: [109, 72] },
  { year: 11, male: [110, 74], female: [111, 74] },
  { year: 12, male: [113, 75], female: [114, 75] },
];

/** Lower ends of the PALS ranges: up to which completed year, systolic, diastolic. */
const PALS_LOW: readonly (readonly [number, number, number, Source])[] = [
  [2, 86, 42, PALS_RANGE_YOUNG],
  [5, 89, 46, PALS_RANGE_YOUNG],
  [9, 97, 57, PALS_RANGE_OLDER],
  [11, 102, 61, PALS_RANGE_OLDER],
  [15, 110, 64, PALS_RANGE_OLDER],
];

function palsLow(year: number, part: 'systolic' | 'diastolic'): Cell {
  const row = PALS_LOW.find(([upTo]) => year <= upTo);
  return row === undefined ? null : [row[part === 'systolic' ? 1 : 2], row[3]];
}

/** The last value below the table's. */
function screeningHigh({ male, female }: ScreeningRow, index: 0 | 1): Cell {
  return {
    male: limit(male[index] - 1, AAP_SCREENING),
    female: limit(female[index] - 1, AAP_SCREENING),
  };
}

/** Hypotension is below 70 + 2 × age from 1 to 10 years, then below 90. */
const hypotension = (year: number): Cell => [
  (year <= 10 ? 70 + 2 * year : 90) - 1,
  PALS_HYPOTENSION,
];

function pewsHigh(year: number): Cell {
  if (year < 4) return [160, BEDSIDE_PEWS];
  return [year < 12 ? 170 : 190, BEDSIDE_PEWS];
}

const yearLabel = (year: number): string => (year === 1 ? '1 year' : `${year} years`);

/** Systolic pressure by completed age, birth to 17 years. */
export const CHILD_SYSTOLIC: readonly BandRow[] = [
  band({ days: NEWBORN_DAYS }, 'under 28 days', [
    [59, PALS_HYPOTENSION],
    [67, PALS_RANGE_YOUNG],
    [84, PALS_RANGE_YOUNG],
    [130, BEDSIDE_PEWS],
  ]),
  ...([3, 12] as const).map((months) =>
    band({ months }, months === 3 ? '28 days to 2 months' : '3 to 11 months', [
      [69, PALS_HYPOTENSION],
      [72, PALS_RANGE_YOUNG],
      [104, PALS_RANGE_YOUNG],
      [months === 3 ? 130 : 150, BEDSIDE_PEWS],
    ]),
  ),
  ...SCREENING.map((row) =>
    band({ months: (row.year + 1) * 12 }, yearLabel(row.year), [
      hypotension(row.year),
      palsLow(row.year, 'systolic'),
      screeningHigh(row, 0),
      pewsHigh(row.year),
    ]),
  ),
  band({ months: 192 }, '13 to 15 years', [
    hypotension(13),
    palsLow(13, 'systolic'),
    [119, AAP_SCREENING],
    pewsHigh(13),
  ]),
  // NEWS2 is for patients from 16 years on; PALS ends before.
  band({ months: 216 }, '16 and 17 years', [
    hypotension(16),
    [101, NEWS2],
    [119, AAP_SCREENING],
    pewsHigh(16),
  ]),
];

const DIASTOLIC_CRITICAL_HIGH: Cell = [120, proposedAfter(NICE_NG136)];

/**
 * Diastolic pressure by completed age, birth to 17 years. No source at hand calls a child's diastolic
 * critical: the low limit is what the hold bounds doubt anyway, the high one is the adult's.
 */
export const CHILD_DIASTOLIC: readonly BandRow[] = [
  band({ days: NEWBORN_DAYS }, 'under 28 days', [
    [9, proposedAfter(VERSMOLD)],
    [35, PALS_RANGE_YOUNG],
    [53, PALS_RANGE_YOUNG],
    DIASTOLIC_CRITICAL_HIGH,
  ]),
  band({ months: 12 }, '28 days to 11 months', [
    [9, proposedAfter(VERSMOLD)],
    [37, PALS_RANGE_YOUNG],
    [56, PALS_RANGE_YOUNG],
    DIASTOLIC_CRITICAL_HIGH,
  ]),
  ...SCREENING.map((row) =>
    band({ months: (row.year + 1) * 12 }, yearLabel(row.year), [
      [19, PROPOSED],
      palsLow(row.year, 'diastolic'),
      screeningHigh(row, 1),
      DIASTOLIC_CRITICAL_HIGH,
    ]),
  ),
  band({ months: 192 }, '13 to 15 years', [
    [39, PROPOSED],
    palsLow(13, 'diastolic'),
    [79, AAP_SCREENING],
    DIASTOLIC_CRITICAL_HIGH,
  ]),
  band({ months: 216 }, '16 and 17 years', [
    [39, PROPOSED],
    [60, PROPOSED],
    [79, AAP_SCREENING],
    DIASTOLIC_CRITICAL_HIGH,
  ]),
];
