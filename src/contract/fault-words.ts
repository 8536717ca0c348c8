import type { ErrorObject } from 'ajv/dist/2020.js';
import type { Fault } from '../vitals/shapes.js';
import { formFault, isAboutForm } from './form-words.js';
import { parentOf, pointerTo, quoted, valueAt } from './pointers.js';

/** A sender mends the first of them first; a hostile body does not choose the size of our answer. */
export const MAX_FAULTS = 100;

/** What a text must look like, by the definition (`$defs`) in the schema that it broke. */
export const SENTENCES: Readonly<Record<string, string>> = {
  number: 'must be a number, or a decimal text such as "36.50" (at most six decimals, no exponent)',
  moment:
    'must be a time with its offset, such as 2026-03-01T08:15:00+01:00 or 2026-03-01T07:15:00Z',
  date: 'must be a date such as 1958-11-02',
  uuid: 'must be a UUID such as 2c0b8a3e-4a0f-4b8a-9d6f-0d9c4f0a7b11',
  uri: 'must be an absolute URI, such as urn:example:mrn or https://hospital.example/mrn',
  identifierValue: 'must be text without space around it and without control characters',
  text: 'must be one line of text, not blank and without control characters',
  remark: 'must be text, not blank and without control characters',
  word: 'must be text without control characters',
};

const TYPE_WORDS: Readonly<Record<string, string>> = {
  string: 'must be text',
  number: 'must be a number',
  integer: 'must be a whole number',
  boolean: 'must be true or false',
  object: 'must be an object',
  array: 'must be a list',
};

/**
 * Turns what the validator says into faults that a person understands: each once, what belongs together
 * (a reading's form of value, a decision's members) in one sentence.
 * @param root the value that was validated
 */
export function explainFaults(errors: readonly ErrorObject[], root: unknown): readonly Fault[] {
  const forms = groupForms(errors);
  const faults = new Map<string, Fault>();
  for (const error of errors) {
    if (faults.size >= MAX_FAULTS) break;
    const fault = isAboutForm(error) ? null : explain(error, forms);
    if (fault !== null && !faults.has(fault.key)) faults.set(fault.key, fault);
  }
  const ofForm = [...forms].map(([owner, offenders]) =>
    formFault(owner, valueAt(root, owner), offenders),
  );
  return [...ofForm, ...faults.values()]
    .slice(0, MAX_FAULTS)
    .map(({ pointer, message }) => ({ pointer, message }));
}

/** By owner: the members that do not belong to its form; none where one is missing. */
function groupForms(errors: readonly ErrorObject[]): ReadonlyMap<string, readonly string[]> {
  const forms = new Map<string, string[]>();
  for (const error of errors) {
    if (error.keyword === 'if' || !isAboutForm(error)) continue;
    const offends = error.keyword === 'false schema';
    const owner = offends ? parentOf(error.instancePath) : error.instancePath;
    const offenders = forms.get(owner) ?? [];
    if (offends) offenders.push(error.instancePath);
    forms.set(owner, offenders);
  }
  return forms;
}

/** A fault, and a key that the validator's errors about the same thing share. */
interface KeyedFault extends Fault {
  readonly key: string;
}

/** Null: said by another error already. */
function explain(
  error: ErrorObject,
  forms: ReadonlyMap<string, readonly string[]>,
): KeyedFault | null {
  const { instancePath: pointer, keyword } = error;
  const params = error.params as Readonly<Record<string, string>>;
  if (keyword === 'if') return null;
  if (keyword === 'additionalProperties') {
    const name = params.additionalProperty ?? '';
    const message = `${quoted(name)} is not a member of the ${titleOf(error)}; unknown members are refused`;
    const member = pointerTo(pointer, name);
    return { key: member, pointer: member, message };
  }
  if (keyword === 'dependentRequired' && forms.has(pointer)) return null;
  if (keyword === 'required' || keyword === 'dependentRequired') {
    const name = params.missingProperty ?? '';
    return { key: pointerTo(pointer, name), pointer, message: missingWords(error, name) };
  }
  return { key: pointer, pointer, message: valueWords(error) };
}

function titleOf({ parentSchema }: ErrorObject): string {
  return (parentSchema as { title?: string }).title ?? 'member';
}

function missingWords({ keyword, params, data }: ErrorObject, name: string): string {
  if (keyword === 'dependentRequired') {
    const { property } = params as { property: string };
    return `${quoted(property)} needs ${quoted(name)} beside it`;
  }
  if (name !== 'method') return `${quoted(name)} is missing`;
  const { vital } = data as { vital: string };
  return `a reading of ${vital} needs its "method": it is checked against others by it`;
}

function valueWords({ keyword, schema, schemaPath, parentSchema, data }: ErrorObject): string {
  const rule = parentSchema as { pattern?: string; minimum?: number; maximum?: number };
  const [, definition = ''] = /\/\$defs\/(\w+)\/\w+$/.exec(schemaPath) ?? [];
  if (keyword === 'enum') return `must be one of ${(schema as unknown[]).join(', ')}`;
  if (keyword === 'maxLength') return `must not be longer than ${String(schema)} characters`;
  if (keyword === 'maxItems') return `must not hold more than ${String(schema)}`;
  if (keyword === 'minItems') return 'must hold at least one reading';
  if (keyword.endsWith('imum')) return rangeWords(rule, keyword);
  if (keyword === 'format' && new RegExp(rule.pattern ?? '', 'u').test(data as string)) {
    return `names a day that the calendar does not have: ${quoted((data as string).slice(0, 10))}`;
  }
  const sentence = SENTENCES[definition];
  if (sentence !== undefined) return sentence;
  return TYPE_WORDS[schema as string] ?? 'is not as the schema wants it';
}

function rangeWords(rule: { minimum?: number; maximum?: number }, keyword: string): string {
  if (keyword === 'exclusiveMinimum' && rule.maximum !== undefined) {
    return `must be more than 0 and at most ${rule.maximum}`;
  }
  if (keyword.startsWith('exclusive')) return 'must be under a million either way';
  return `must be from ${rule.minimum ?? 0} to ${rule.maximum ?? 0}`;
}
