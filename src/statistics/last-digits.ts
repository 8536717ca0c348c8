/**
 * Which last digits somebody writes, held against those that the instrument can show. A scale with a mark
 * every 2 mmHg, or a count over half a minute, shows even digits only: held against all ten, the most careful
 * observer would stand accused.
 */
import { chiSquareTail } from './distributions.js';

export type Scale = 'every-digit' | 'even-digits';

export interface LastDigits {
  /** Numbers whose last digit the scale can show. */
  readonly counted: number;
  /** Numbers that lie between its marks, and numbers that are not whole. */
  readonly offScale: number;
  readonly notWhole: number;
  /** How often each digit from 0 to 9 stood last. */
  readonly counts: readonly number[];
  readonly expectedShare: number;
  readonly zeroShare: number;
  readonly chiSquare: number;
  readonly df: number;
  readonly p: number;
  /** Too few to judge, as one would expect it, or a preference for zero that chance does not explain. */
  readonly finding: 'too-few' | 'as-expected' | 'zeros-preferred';
}

const DIGITS = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9];

/** Fewer numbers than these are shown without a judgement (common practice, no source). */
export const DIGITS_AT_LEAST = 100;

/** Half as many zeros again (of ten digits: thrice as many) as expected; with many numbers p alone says nothing. */
const ZEROS_ABOVE: Readonly<Record<Scale, number>> = { 'every-digit': 0.3, 'even-digits': 0.4 };

/** Pearson's chi-square against equal shares of the digits that the scale can show. */
export function lastDigits(numbers: readonly number[], scale: Scale): LastDigits {
  const shown = DIGITS.filter((digit) => scale === 'every-digit' || digit % 2 === 0);
  const whole = numbers.filter((number) => Number.isInteger(number));
  const counts = DIGITS.map(
    (digit) => whole.filter((number) => Math.abs(number) % 10 === digit).length,
  );
  const ofScale = shown.map((digit) => counts[digit] ?? 0);
  const counted = ofScale.reduce((total, count) => total + count, 0);
  const expected = counted / shown.length;
  const chiSquare =
    counted === 0
      ? 0
      : ofScale.reduce((total, count) => total + (count - expected) ** 2 / expected, 0);
  const df = shown.length - 1;
  const p = chiSquareTail(chiSquare, df);
  const zeroShare = counted === 0 ? 0 : (counts[0] ?? 0) / counted;
  const preferred = p < 0.001 && zeroShare > ZEROS_ABOVE[scale];
  const finding = preferred ? 'zeros-preferred' : 'as-expected';
  return {
    counted,
    offScale: whole.length - counted,
    notWhole: numbers.length - whole.length,
    counts,
    expectedShare: 1 / shown.length,
    zeroShare,
    chiSquare,
    df,
    p,
    finding: counted < DIGITS_AT_LEAST ? 'too-few' : finding,
  };
}
