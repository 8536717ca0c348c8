/**
 * The closed table of units. A value that already stands in the unit in which its sign is kept stays as
 * it was written; any other is converted in decimal arithmetic and rounded once, half up (away from
 * zero), to the decimals that lose nothing of what instruments of that unit show. Nothing is guessed:
 * a unit that is not in the table has no conversion.
 */
import { Decimal } from 'decimal.js';
import type { Measured, WrittenNumber } from './shapes.js';
import type { EnteredUnit } from './words.js';

/** More decimals than this are float noise, not measurement: they are rounded away. */
const MAX_DECIMALS = 6;

interface Conversion {
  /** Decimals kept; null: exact in as many as it takes. */
  readonly decimals: number | null;
  readonly convert: (entered: Decimal) => Decimal;
}

/** UCUM 2.2: m[Hg] is 133.322 kPa. */
const KPA_PER_MMHG = new Decimal('0.133322');
/** International yard and pound agreement, 1959; UCUM 2.2. */
const KG_PER_LB = new Decimal('0.45359237');
const CM_PER_INCH = new Decimal('2.54');

/**
 * Conversions into the unit in which the catalogue keeps the sign. A unit without one is that unit, or
 * another spelling of it: an annotation such as {beats} changes nothing (UCUM §12).
 */
const CONVERSIONS: Readonly<Partial<Record<EnteredUnit, Conversion>>> = {
  kPa: { decimals: 1, convert: (kPa) => kPa.dividedBy(KPA_PER_MMHG) },
  // One decimal would lose 311 of the 701 tenths between 50 and 120 °F on the way back.
  '[degF]': { decimals: 2, convert: (degF) => degF.minus(32).times(5).dividedBy(9) },
  g: { decimals: 3, convert: (g) => g.dividedBy(1000) },
  '[lb_av]': { decimals: 2, convert: (lb) => lb.times(KG_PER_LB) },
  m: { decimals: null, convert: (m) => m.times(100) },
  '[in_i]': { decimals: 1, convert: (inch) => inch.times(CM_PER_INCH) },
};

/** Whether values in this unit are kept in another one. */
export function isConverted(unit: EnteredUnit): boolean {
  return unit in CONVERSIONS;
}

/** The number as it was written, in plain digits: no exponent, trailing zeros of a text kept. */
export function writtenText(written: WrittenNumber): string {
  if (typeof written === 'string') return withoutNegativeZero(written);
  const text = String(written);
  // Only numbers below 1e-6 or from 1e21 on are printed with an exponent (ECMA-262 Number::toString).
  return text.includes('e') ? new Decimal(written).toFixed() : text;
}

/**
 * The value in the unit in which its sign is kept, exact to the decimals of the table.
 * @param written digits as the contract allows them: under a million either way, no exponent in a text
 */
export function toCanonical(written: WrittenNumber, unit: EnteredUnit): Measured {
  const conversion = CONVERSIONS[unit];
  if (conversion === undefined) return measured(bounded(written));
  const { decimals, convert } = conversion;
  const exact = convert(new Decimal(written));
  return measured(
    decimals === null
      ? exact.toDecimalPlaces(MAX_DECIMALS, Decimal.ROUND_HALF_UP).toFixed()
      : exact.toFixed(decimals, Decimal.ROUND_HALF_UP),
  );
}

/**
 * A bound in the unit in which values are kept, so that it parts them as it would have parted what was
 * entered: it is rounded as they were, and where nothing is rounded it keeps every digit.
 * @param bound a decimal of any size
 */
export function boundInCanonical(bound: Decimal, unit: EnteredUnit): string {
  const conversion = CONVERSIONS[unit];
  if (conversion === undefined) return bound.toFixed();
  const { decimals, convert } = conversion;
  const exact = convert(bound);
  return decimals === null ? exact.toFixed() : exact.toFixed(decimals, Decimal.ROUND_HALF_UP);
}

/** A value that needs no conversion: its own digits, unless there are more than any instrument shows. */
function bounded(written: WrittenNumber): string {
  const text = writtenText(written);
  const point = text.indexOf('.');
  if (point === -1 || text.length - point - 1 <= MAX_DECIMALS) return text;
  return withoutNegativeZero(
    new Decimal(text).toDecimalPlaces(MAX_DECIMALS, Decimal.ROUND_HALF_UP).toFixed(),
  );
}

function measured(text: string): Measured {
  const digits = withoutNegativeZero(text);
  return { text: digits, number: Number(digits) };
}

/** `-0.0` and `0.0` are one value; the sign would only puzzle a reader. */
function withoutNegativeZero(text: string): string {
  return text.startsWith('-') && Number(text) === 0 ? text.slice(1) : text;
}
