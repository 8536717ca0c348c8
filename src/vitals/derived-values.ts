/**
 * What the gateway calculates from a blood pressure where the site asks for it: pulse pressure and mean
 * pressure. They are no readings: nothing is checked against them, judged by them or held for them.
 */
import { Decimal } from 'decimal.js';
import type { Limits } from './limits.js';
import type { DerivedValues, Fault, Finding, Reading } from './shapes.js';
import type { SiteRules } from './site-rules.js';
import { DERIVED_KINDS } from './words.js';

const FACTOR = 'derived-values.mean-factor';
const THIRD = 1 / 3;

/** A third is calculated as such, and shown so: its decimal fraction would move halves. */
function factorText(factor: number): string {
  return factor === THIRD ? '1/3' : String(factor);
}

/** Systolic less diastolic, with no more decimals than the coarser of the two; half up. */
export function pulsePressure(systolic: string, diastolic: string): string {
  const decimals = Math.min(decimalsOf(systolic), decimalsOf(diastolic));
  return new Decimal(systolic).minus(diastolic).toFixed(decimals, Decimal.ROUND_HALF_UP);
}

/** Diastolic and a share of the pulse pressure, in whole mm[Hg], rounded once, half up. */
export function meanPressure(systolic: string, diastolic: string, factor: number): string {
  const difference = new Decimal(systolic).minus(diastolic);
  const share = factor === THIRD ? difference.dividedBy(3) : difference.times(factor);
  return share.plus(diastolic).toFixed(0, Decimal.ROUND_HALF_UP);
}

function decimalsOf(text: string): number {
  const point = text.indexOf('.');
  return point === -1 ? 0 : text.length - point - 1;
}

/**
 * What is calculated from a reading. Null: the site does not ask for it, or it is no pressure with both
 * parts, neither of them in error (a diastolic heard down to zero is none). Where a mean was sent, be it
 * a wrong one, none is calculated.
 */
export function deriveValues(
  { values }: Pick<Reading, 'values'>,
  findings: readonly Pick<Finding, 'partInError'>[],
  limits: Limits,
): DerivedValues | null {
  if (!limits.derives) return null;
  const { systolic, diastolic, mean } = values;
  if (systolic === undefined || diastolic === undefined) return null;
  if (diastolic.number <= 0 || systolic.number <= diastolic.number) return null;
  if (findings.some(({ partInError: part }) => part === 'systolic' || part === 'diastolic')) {
    return null;
  }
  const pulse = pulsePressure(systolic.text, diastolic.text);
  if (mean !== undefined) return { 'pulse-pressure': pulse };
  const factor = limits.at(FACTOR);
  return {
    'pulse-pressure': pulse,
    'mean-pressure': meanPressure(systolic.text, diastolic.text, factor),
    factor: factorText(factor),
  };
}

/**
 * What the next version of a reading is kept with: what was published stays, if only to say that it holds
 * no more.
 * @param before of the version before; null: none, or nothing of the reading was published
 */
export function followingValues(
  before: DerivedValues | null,
  now: DerivedValues | null,
): DerivedValues | null {
  const gone = DERIVED_KINDS.filter((kind) => before?.[kind] !== undefined);
  if (gone.length === 0) return now;
  return { ...Object.fromEntries(gone.map((kind) => [kind, null])), ...now };
}

/** What is wrong with what a configuration says about them. */
export function derivationFaults(
  { settings = {} }: Partial<SiteRules>,
  limits: Limits,
): readonly Fault[] {
  const pointer = `/settings/${FACTOR}`;
  if (!limits.derives) {
    const message = `${FACTOR} has no effect: nothing is calculated unless "derivedValues" is switched on`;
    return FACTOR in settings ? [{ pointer, message }] : [];
  }
  const factor = limits.at(FACTOR);
  const [low, high] = [
    limits.at('mean-fraction-unusual.low'),
    limits.at('mean-fraction-unusual.high'),
  ];
  if (factor >= low && factor <= high) return [];
  const message = `${FACTOR} (${factorText(factor)}) lies outside mean-fraction-unusual (${low} to ${high}): every mean that is calculated would be an unusual one`;
  return [{ pointer: FACTOR in settings ? `${pointer}/at` : '/derivedValues', message }];
}
