/** How the pages call what a reading is, beyond its value. */
import type { ReadingVersion } from '../../../vitals/shapes.js';
import type { HoldKind, Interpretation } from '../../../vitals/words.js';
import { valueText } from './value-text.js';

/** The value of a reading as it is kept, never broken in two: `118/76 mmHg`, `97 %`, `refused`. */
export function readingValue(version: ReadingVersion): string {
  return (valueText(version) ?? 'no value').replaceAll(' ', '\u00a0');
}

const INTERPRETATIONS: Readonly<Record<Interpretation, string>> = {
  LL: 'critically low',
  L: 'low',
  N: 'usual',
  H: 'high',
  HH: 'critically high',
};

/** Of each part that is told of, once if they agree; empty: no code was given. */
export function interpretationText({ interpretation }: ReadingVersion): string {
  const words = Object.values(interpretation).map((code) => INTERPRETATIONS[code]);
  return [...new Set(words)].join(', ');
}

export const HOLD_WORDS: Readonly<Record<HoldKind, string>> = {
  value: 'the value',
  unit: 'the unit',
  identity: 'whose it is',
};
