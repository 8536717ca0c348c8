/**
 * Values of quantity parameters (FHIR R4 §3.1.1.4.3, .4 and .6). A number without a comparison stands for
 * all that round to it in the digits it is written with; beside a comparison its digits are exact.
 */
import { Decimal } from 'decimal.js';
import type { ValueDemand } from '../../store/observation-conditions.js';
import type { AmountRange, Bound } from '../../store/value-conditions.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { unitOfUcum } from '../../vitals/codes-units.js';
import { boundInCanonical } from '../../vitals/units.js';
import { VITALS } from '../../vitals/words.js';
import type { CanonicalUnit, EnteredUnit } from '../../vitals/words.js';
import type { ValueKind } from './code-index.js';
import { ValueFault, splitBars } from './token-values.js';

export const UCUM_SYSTEM = 'http://unitsofmeasure.org';

const NUMBER =
  /^(eq|ne|gt|ge|lt|le|sa|eb|ap)?(-?\d{1,20}(?:\.(\d{1,20}))?(?:[eE]([-+]?\d{1,2}))?)$/;

/** Digits enough for every number that is taken. */
const Exact = Decimal.clone({ precision: 200, toExpPos: 1000, toExpNeg: -1000 });

/** What a range is compared with: a bound that is null stands for no end. */
interface Span {
  readonly from: End | null;
  readonly to: End | null;
}
interface End {
  readonly at: Decimal;
  readonly inclusive: boolean;
}

/** A quantity as asked for. */
export interface AskedQuantity {
  readonly spans: readonly Span[];
  /** The unit to read the number in for a sign; null: the sign is not measured in such a unit. */
  readonly unitFor: (row: ValueKind['row']) => EnteredUnit | null;
}

/**
 * Reads `[prefix]number`, `[prefix]number|system|code` or `[prefix]number||unit`.
 *
 * @throws ValueFault when it is none, or the unit is one that values here are not compared with: an empty
 *   answer would pass for the word that there is no such value.
 */
export function readQuantity(value: string): AskedQuantity {
  const [number = '', system, code, ...more] = splitBars(value);
  if (more.length > 0 || (system !== undefined && code === undefined)) {
    throw new ValueFault('takes a number, or number|system|code');
  }
  return { spans: readSpans(number), unitFor: readUnit(system, code) };
}

function readSpans(text: string): readonly Span[] {
  const match = NUMBER.exec(text);
  if (match === null) {
    throw new ValueFault('has no number such as 38, gt38.5 or ap1.2e2, of at most 20 digits');
  }
  const [, prefix = 'eq', number = '', decimals = '', exponent = '0'] = match;
  const at = new Exact(number);
  const half = new Exact(10).pow(Number(exponent) - decimals.length).dividedBy(2);
  return spansOf(prefix, at, half);
}

function spansOf(prefix: string, at: Decimal, half: Decimal): readonly Span[] {
  const [low, high] = [at.minus(half), at.plus(half)];
  const slack = at.abs().dividedBy(10);
  switch (prefix) {
    case 'ne':
      return [
        { from: null, to: { at: low, inclusive: false } },
        { from: { at: high, inclusive: true }, to: null },
      ];
    case 'gt':
    case 'sa':
      return [{ from: { at, inclusive: false }, to: null }];
    case 'ge':
      return [{ from: { at, inclusive: true }, to: null }];
    case 'lt':
    case 'eb':
      return [{ from: null, to: { at, inclusive: false } }];
    case 'le':
      return [{ from: null, to: { at, inclusive: true } }];
    case 'ap':
      return [
        {
          from: { at: at.minus(slack), inclusive: true },
          to: { at: at.plus(slack), inclusive: true },
        },
      ];
    default:
      return [{ from: { at: low, inclusive: true }, to: { at: high, inclusive: false } }];
  }
}

/** Which units a canonical one is compared with: those in which some sign that is kept in it may be sent. */
function isComparable(unit: EnteredUnit, canonical: CanonicalUnit | null): boolean {
  return VITALS.some(
    (vital) => CATALOGUE[vital].unit === canonical && CATALOGUE[vital].unitsTaken.includes(unit),
  );
}

function readUnit(
  system: string | undefined,
  code: string | undefined,
): (row: ValueKind['row']) => EnteredUnit | null {
  // Without a unit the number is compared as it is shown.
  if (system === undefined || code === undefined || (system === '' && code === '')) {
    return ({ unit }) => unit;
  }
  if (system !== '' && system !== UCUM_SYSTEM) return () => null;
  const unit = unitOfUcum(code);
  const isWord = system === '' && VITALS.some((vital) => CATALOGUE[vital].unitText === code);
  if (unit === null && !isWord) {
    throw new ValueFault('names a unit that values here are not compared with');
  }
  return (row) => {
    if (isWord && row.unitText === code) return row.unit;
    return unit !== null && isComparable(unit, row.unit) ? unit : null;
  };
}

/** The demand that one of these numbers is what was asked for. */
export function demandsOf(
  { spans, unitFor }: AskedQuantity,
  kinds: readonly ValueKind[],
): ValueDemand[] {
  return kinds.flatMap(({ of, row }) => {
    const unit = unitFor(row);
    if (unit === null) return [];
    return [{ of, ranges: spans.map((span) => rangeIn(span, unit)) }];
  });
}

function rangeIn({ from, to }: Span, unit: EnteredUnit): AmountRange {
  return {
    from: from === null ? null : boundIn(from, unit),
    to: to === null ? null : boundIn(to, unit),
  };
}

function boundIn({ at, inclusive }: End, unit: EnteredUnit): Bound {
  return { text: boundInCanonical(at, unit), inclusive };
}
