/** Figures as people read them: rounded once, at the very end, with a true minus sign. */
import type { Interval } from '../../../statistics/limits-of-agreement.js';

function rounded(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits);
  const isZero = Number(text) === 0;
  return value < 0 && !isZero ? `−${text}` : text;
}

export function writeNumber(value: number, digits = 1): string {
  return Number.isFinite(value) ? rounded(value, digits) : '–';
}

/** With a plus sign where it is above zero: for differences. */
export function writeSigned(value: number, digits = 1): string {
  const text = writeNumber(value, digits);
  return value > 0 && Number(text) !== 0 ? `+${text}` : text;
}

/** `+3.1 (+1.9 to +4.3)` */
export function writeWithin(value: number, { low, high }: Interval, digits = 1): string {
  return `${writeSigned(value, digits)} (${writeRange({ low, high }, digits)})`;
}

export function writeRange({ low, high }: Interval, digits = 1): string {
  return `${writeSigned(low, digits)} to ${writeSigned(high, digits)}`;
}

export function writeShare(share: number): string {
  return Number.isFinite(share) ? `${rounded(share * 100, 0)} %` : '–';
}

/** A chance: three decimals, and no zero where there is none. */
export function writeChance(p: number): string {
  return p < 0.001 ? 'under 0.001' : p.toFixed(3);
}

/** `1 pair`, `12 pairs` */
export function writeCount(count: number, one: string, many = `${one}s`): string {
  return `${String(count)} ${count === 1 ? one : many}`;
}
