/** Quantities: a number digit for digit, and its unit. */
import type { Quantity } from 'fhir/r4.js';
import { readUnit } from '../../vitals/codes-units.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { WrittenNumber } from '../../vitals/shapes.js';
import type { UnitMapping } from '../../vitals/source-profile.js';
import type { Digits } from './read-exact-json.js';

/** As many digits as the set contract takes, and no exponent. */
const PLAIN = /^-?(?:0|[1-9]\d{0,5})(?:\.\d{1,6})?$/;
const MAX_NUMBER = 1_000_000;
/** As kept for an analyst. */
const MAX_AS_SENT = 200;

export interface ReadQuantity {
  /** Absent: it cannot be read as a number. */
  readonly number?: WrittenNumber;
  readonly unit?: string;
  readonly doubts: readonly ReportDoubt[];
  /** Where it cannot be read: number and unit as they stand there. */
  readonly asSent?: string;
}

/** @param quantity of a resource whose form was checked */
export function readQuantity(
  quantity: Quantity,
  digits: Digits,
  aliases: readonly UnitMapping[],
): ReadQuantity {
  const { value, comparator, system, code, unit: words } = quantity;
  // Words for people count only where there is no code, and the source's own mapping has them.
  const name = code === undefined || words?.startsWith('MDC_') === true ? words : undefined;
  const sent = {
    ...(system !== undefined && { system }),
    ...(code !== undefined && { code }),
    ...(name !== undefined && { name }),
  };
  const unit = readUnit([sent], aliases);
  const text = value === undefined ? '' : digits.textOf(quantity, 'value');
  const number = comparator === undefined ? readNumber(text) : undefined;
  if (number !== undefined) return { number, ...unit };
  const asSent = [comparator, text, code ?? words].filter((part) => part !== undefined).join(' ');
  return {
    ...unit,
    doubts: [...unit.doubts, 'value-unreadable'],
    asSent: asSent.trim().slice(0, MAX_AS_SENT),
  };
}

/** Undefined: it is no number that a vital sign could have. */
function readNumber(text: string): WrittenNumber | undefined {
  if (PLAIN.test(text)) return text;
  const number = Number(text);
  // More digits than an instrument shows, or an exponent: what there is of it is rounded where it is kept.
  return text !== '' && Number.isFinite(number) && Math.abs(number) < MAX_NUMBER
    ? number
    : undefined;
}

/** A quantity in words, for a note. */
export function describeQuantity(quantity: Quantity | undefined, digits: Digits): string {
  if (quantity?.value === undefined) return '';
  const { comparator = '', unit, code } = quantity;
  return `${comparator}${digits.textOf(quantity, 'value')} ${code ?? unit ?? ''}`.trim();
}
