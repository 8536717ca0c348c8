/** What was measured, as people write it. */
import { CATALOGUE } from '../../../vitals/catalogue.js';
import type { Entered } from '../../../vitals/shapes.js';
import type { Part, Vital } from '../../../vitals/words.js';

/** The sign as people call it. */
export function signText(vital: Vital): string {
  return CATALOGUE[vital].display;
}

/** A word of a closed list as people read it: `pulse-oximetry`, pulse oximetry. */
export function wordText(word: string): string {
  return word.replaceAll('-', ' ');
}

interface ValueFacts {
  readonly vital: Vital;
  /** In the unit of the sign. */
  readonly values: Readonly<Partial<Record<Part, string>>>;
  readonly code: string | null;
  readonly absent: string | null;
  readonly entered: Entered | null;
}

function numbersText(values: Readonly<Partial<Record<Part, string>>>): string | null {
  if (values.value !== undefined) return values.value;
  const { systolic, diastolic, mean } = values;
  if (systolic === undefined && diastolic === undefined && mean === undefined) return null;
  const pair =
    systolic === undefined && diastolic === undefined
      ? []
      : [`${systolic ?? '–'}/${diastolic ?? '–'}`];
  return [...pair, ...(mean === undefined ? [] : [`mean ${mean}`])].join(', ');
}

/** `78 /min`, `118/76, mean 90 mmHg`, `not done`; null: it has no value that could be read. */
export function valueText({ vital, values, code, absent }: ValueFacts): string | null {
  const numbers = numbersText(values);
  if (numbers !== null) return `${numbers} ${CATALOGUE[vital].unitText}`.trim();
  const word = code ?? absent;
  return word === null ? null : wordText(word);
}

/** What was typed or sent, where that is not the number that is kept. */
export function enteredText(entered: Entered | null): string | null {
  if (entered === null) return null;
  if ('count' in entered) return `${entered.count} in ${entered.seconds} s`;
  const { unit, ...values } = entered;
  const numbers = numbersText(values);
  return numbers === null ? null : `${numbers} ${unit}`;
}
