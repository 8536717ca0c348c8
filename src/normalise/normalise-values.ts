import type { CatalogueRow } from '../vitals/catalogue.js';
import type { Entered, IncomingReading, Measured } from '../vitals/shapes.js';
import { isConverted, toCanonical, writtenText } from '../vitals/units.js';
import type { EnteredUnit, Part } from '../vitals/words.js';

type Values = Partial<Record<Part, Measured>>;

/** The unit of the reading if its sign takes it; a count has none to name. */
export type UnitFound = EnteredUnit | 'unknown' | 'none';

/** Values in the canonical unit, and what was typed where that is something else. */
export interface NormalisedValues {
  readonly values: Readonly<Values>;
  readonly entered: Entered | null;
}

const NONE: NormalisedValues = { values: {}, entered: null };

/** A missing unit, one outside the table, and one that the sign does not take are alike unknown. */
export function findUnit(incoming: IncomingReading, row: CatalogueRow): UnitFound {
  if (!hasWrittenValue(incoming, row)) return 'none';
  return row.unitsTaken.find((unit) => unit === incoming.unit) ?? 'unknown';
}

/**
 * The numbers of a sound reading. A count of n in T seconds is a rate of n × 60 / T: whole, because the
 * windows divide a minute.
 */
export function normaliseValues(
  incoming: IncomingReading,
  row: CatalogueRow,
  unit: EnteredUnit | 'none',
): NormalisedValues {
  if (unit === 'none') return rateOfCount(incoming);
  const values: Values = {};
  let changed = isConverted(unit);
  for (const part of row.values) {
    const written = incoming[part];
    if (written === undefined) continue;
    const value = toCanonical(written, unit);
    values[part] = value;
    changed ||= value.text !== writtenText(written);
  }
  return { values, entered: changed ? enteredNumbers(incoming, row) : null };
}

/** What was typed, for a reading that cannot become a value: the finding's words need it. */
export function enteredAsTyped(incoming: IncomingReading, row: CatalogueRow): Entered | null {
  if (hasWrittenValue(incoming, row)) return enteredNumbers(incoming, row);
  return rateOfCount(incoming).entered;
}

function hasWrittenValue(incoming: IncomingReading, row: CatalogueRow): boolean {
  return row.values.some((part) => incoming[part] !== undefined);
}

function rateOfCount({ count, seconds }: IncomingReading): NormalisedValues {
  if (count === undefined || seconds === undefined) return NONE;
  const rate = (count * 60) / seconds;
  return {
    values: { value: { text: String(rate), number: rate } },
    entered: { count, seconds },
  };
}

function enteredNumbers(incoming: IncomingReading, row: CatalogueRow): Entered {
  const unit = incoming.unit ?? '';
  if (row.form !== 'pressure') return { value: writtenText(incoming.value ?? ''), unit };
  const numbers: { systolic?: string; diastolic?: string; mean?: string } = {};
  if (incoming.systolic !== undefined) numbers.systolic = writtenText(incoming.systolic);
  if (incoming.diastolic !== undefined) numbers.diastolic = writtenText(incoming.diastolic);
  if (incoming.mean !== undefined) numbers.mean = writtenText(incoming.mean);
  return { ...numbers, unit };
}
