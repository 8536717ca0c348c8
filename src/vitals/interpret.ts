/**
 * Interpretation codes (HL7 v3 ObservationInterpretation, the group LL, L, N, H, HH) and what counts as
 * critical. Values are compared after rounding to the sign's usual resolution.
 */
import type { Age } from './age-span.js';
import type { Band } from './limits-band.js';
import { bandAt, toResolution, type BandTable } from './limits-lookup.js';
import type { Limit } from './limits-sources.js';
import type { Limits } from './limits.js';
import type { Reading } from './shapes.js';
import { PARTS, type Gender, type Interpretation, type Part } from './words.js';

type Codes = Readonly<Partial<Record<Part, Interpretation>>>;

const NO_CODES: Codes = {};

function codeIn(band: Band, value: number): Interpretation {
  if (band.criticalLow !== null && value <= band.criticalLow.at) return 'LL';
  if (band.criticalHigh !== null && value >= band.criticalHigh.at) return 'HH';
  if (band.low !== null && value < band.low.at) return 'L';
  if (band.high !== null && value > band.high.at) return 'H';
  return 'N';
}

/**
 * The code of each number of a reading, by the band of the patient's age and sex. An age that is not
 * known gives no code: an infant's usual is an adult's critical.
 */
export function interpretReading(
  reading: Reading,
  age: Age | null,
  gender: Gender,
  limits: Limits,
): Codes {
  if (age === null) return NO_CODES;
  let codes: Partial<Record<Part, Interpretation>> | null = null;
  for (const part of PARTS) {
    const measured = reading.values[part];
    if (measured === undefined) continue;
    const table = limits.bands(reading.vital, part, gender);
    const band = table === null ? null : bandAt(table, age);
    if (table === null || band === null) continue;
    codes ??= {};
    codes[part] = codeIn(band, toResolution(table, measured.number));
  }
  return codes ?? NO_CODES;
}

/**
 * Whether help may be needed at once: LL or HH in the patient's band, in any band when that is not
 * known, a level of consciousness other than alert, or a mean pressure that was sent alone and lies
 * beyond its hold bounds (it has no code, but must not be withheld for want of one).
 */
export function isCritical(
  reading: Reading,
  age: Age | null,
  gender: Gender,
  limits: Limits,
): boolean {
  if (reading.absent !== null) return false;
  if (reading.code !== null) return reading.code !== 'alert';
  return PARTS.some((part) => {
    const value = reading.values[part]?.number;
    if (value === undefined) return false;
    const table = limits.bands(reading.vital, part, gender);
    if (table === null) return part === 'mean' && isDoubtfulMeanAlone(reading, value, age, limits);
    return isCriticalIn(table, toResolution(table, value), age);
  });
}

function isCriticalIn(table: BandTable, value: number, age: Age | null): boolean {
  const band = bandAt(table, age);
  if (band === null) return value <= table.anyLow || value >= table.anyHigh;
  const code = codeIn(band, value);
  return code === 'LL' || code === 'HH';
}

function isDoubtfulMeanAlone(
  reading: Reading,
  value: number,
  age: Age | null,
  limits: Limits,
): boolean {
  const { systolic, diastolic } = reading.values;
  if (systolic !== undefined || diastolic !== undefined) return false;
  const { holdBelow, holdAbove } = limits.plausible('blood-pressure', 'mean', reading.method, age);
  return (
    (holdBelow !== null && value < holdBelow.at) || (holdAbove !== null && value > holdAbove.at)
  );
}

/** A number that is critical beyond doubt about the age, with the limit that says so. */
export interface CriticalValue {
  readonly part: Part;
  readonly low: boolean;
  readonly limit: Limit;
  /** Name of the age band; null: critical at every age. */
  readonly ages: string | null;
}

/**
 * The numbers of a reading that are LL or HH in the patient's band; when that is not known, those that
 * would be at every age.
 */
export function criticalValues(
  reading: Reading,
  age: Age | null,
  gender: Gender,
  limits: Limits,
): readonly CriticalValue[] {
  let found: CriticalValue[] | null = null;
  for (const part of PARTS) {
    const measured = reading.values[part];
    if (measured === undefined) continue;
    const table = limits.bands(reading.vital, part, gender);
    const critical =
      table === null ? null : criticalIn(table, toResolution(table, measured.number), part, age);
    if (critical !== null) (found ??= []).push(critical);
  }
  return found ?? [];
}

function criticalIn(
  table: BandTable,
  value: number,
  part: Part,
  age: Age | null,
): CriticalValue | null {
  const band = bandAt(table, age);
  if (band !== null) {
    const code = codeIn(band, value);
    if (code === 'LL' && band.criticalLow !== null) {
      return { part, low: true, limit: band.criticalLow, ages: band.label };
    }
    if (code === 'HH' && band.criticalHigh !== null) {
      return { part, low: false, limit: band.criticalHigh, ages: band.label };
    }
    return null;
  }
  const low = value <= table.everyLow;
  if (!low && value < table.everyHigh) return null;
  const ofBands = table.bands.map(({ criticalLow, criticalHigh }) =>
    low ? criticalLow : criticalHigh,
  );
  const outermost = low ? table.everyLow : table.everyHigh;
  const limit = ofBands.find((each) => each?.at === outermost);
  return limit ? { part, low, limit, ages: null } : null;
}
