import type { ErrorObject } from 'ajv/dist/2020.js';
import { CATALOGUE, type ValueForm } from '../vitals/catalogue.js';
import type { Fault } from '../vitals/shapes.js';
import { VITALS, type Vital } from '../vitals/words.js';
import { quoted } from './pointers.js';

const VALUE_MEMBERS = [
  'value',
  'unit',
  'count',
  'seconds',
  'systolic',
  'diastolic',
  'mean',
  'code',
  'absent',
] as const;

const FORMS: Readonly<Record<ValueForm, string>> = {
  number: '"value" with "unit"; "absent"',
  'number-or-count': '"value" with "unit"; "count" with "seconds"; "absent"',
  pressure: '"systolic", "diastolic" and "mean", at least one of them, with "unit"; "absent"',
  code: '"code"; "absent"',
};

const DECISION_FORMS: Readonly<Record<string, string>> = {
  correct: 'takes "reading", "patient" or both',
  assign: 'takes "patient" and no "reading"',
};

/**
 * Whether the error comes from the conditions of the schema that say which members belong together: the
 * form of a reading's value, or what a decision takes. The method that some signs need is a plain
 * missing member.
 */
export function isAboutForm({ schemaPath, params }: ErrorObject): boolean {
  const { missingProperty } = params as { missingProperty?: string };
  return /\/(then|else)\//.test(schemaPath) && missingProperty !== 'method';
}

/**
 * One sentence for whatever is wrong with the form of one reading or decision.
 * @param owner pointer of the reading or decision
 * @param offenders pointers of the members that do not belong
 */
export function formFault(owner: string, data: unknown, offenders: readonly string[]): Fault {
  const [only, ...others] = offenders;
  const pointer = only !== undefined && others.length === 0 ? only : owner;
  const members = data as Readonly<Record<string, unknown>>;
  const message =
    typeof members.action === 'string' ? decisionWords(members.action) : readingWords(members);
  return { pointer, message };
}

function decisionWords(action: string): string {
  const takes = DECISION_FORMS[action] ?? 'takes neither "reading" nor "patient"';
  return `the action ${quoted(action)} ${takes}`;
}

function readingWords(reading: Readonly<Record<string, unknown>>): string {
  const present = VALUE_MEMBERS.filter((member) => Object.hasOwn(reading, member)).map(quoted);
  const here = present.length === 0 ? 'none of them is there' : `here stand ${present.join(', ')}`;
  const { vital } = reading;
  // A reading of an unknown sign comes here only if it is absent and has a value all the same.
  if (!isVital(vital)) return `an absent reading carries no value; ${here}`;
  const forms = FORMS[CATALOGUE[vital].form];
  return `a reading of ${vital} takes exactly one form of value: ${forms}; ${here}`;
}

function isVital(word: unknown): word is Vital {
  return VITALS.some((vital) => vital === word);
}
