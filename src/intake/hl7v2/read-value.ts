import { consciousnessOfSnomed } from '../../vitals/codes.js';
import { readCodeSystem } from '../../vitals/code-systems.js';
import type { Vital, ConsciousnessCode } from '../../vitals/words.js';
import type { Hl7Component, Hl7Field, Hl7Repetition, Hl7Segment } from './segment.js';

/** OBX-5 of a sign, as OBX-2 says it is written. */
export type RowValue =
  | { readonly kind: 'number'; readonly text: string }
  /** A number in a form that says less, or something else, than a plain one. */
  | { readonly kind: 'odd-number'; readonly text: string; readonly asSent: string }
  | { readonly kind: 'code'; readonly code: ConsciousnessCode }
  | { readonly kind: 'unreadable'; readonly asSent: string }
  /** Nothing, or `""`. */
  | { readonly kind: 'none' };

const MAX_KEPT_CHARACTERS = 200;

/** Data type NM: sign, digits, point; a digit before the point, no exponent (HL7 v2.9.1 §2A.2.50). */
const NUMBER = /^([+-]?)0*(\d+)(?:\.(\d*))?$/;
const MAX_NUMBER_CHARACTERS = 16;

/** Reads OBX-5. What is not a value of the declared type is kept as it was sent, never mended. */
export function readValue(obx: Hl7Segment, vital: Vital): RowValue {
  const field = obx.field(5);
  const type = obx.text(2).trim();
  if (isWithoutValue(field)) return { kind: 'none' };
  const asSent = valueText(field);
  if (field.repetitions.length > 1) return { kind: 'unreadable', asSent };
  const value = field.repetition(1);
  if (vital === 'consciousness') return readCode(value) ?? { kind: 'unreadable', asSent };
  if (type === 'SN') return readStructured(value, asSent);
  const text = value.components.length > 1 ? null : readNumber(value.component(1).text);
  if (text === null || value.component(1).subcomponentCount > 1)
    return { kind: 'unreadable', asSent };
  if (type === 'NM') return { kind: 'number', text };
  // A number that calls itself text, or nothing: whether it is the value a person must say.
  return TEXTS.has(type) ? { kind: 'odd-number', text, asSent } : { kind: 'unreadable', asSent };
}

const TEXTS: ReadonlySet<string> = new Set(['', 'ST', 'TX', 'FT']);

/** Whether a field states no value: empty, only separators, or the delete indicator `""`. */
export function isWithoutValue(field: Hl7Field): boolean {
  return field.repetitions.every((repetition) =>
    repetition.components.every(
      ({ isEmpty, isDeletion, text }) => isEmpty || isDeletion || text.trim() === '',
    ),
  );
}

/** A field as text for people, at most 200 characters. */
export function valueText(field: Hl7Field): string {
  const some = <T>(parts: readonly T[]) => parts.slice(0, MAX_KEPT_CHARACTERS);
  const repetitions = some(field.repetitions).map(({ components }) =>
    some(components).map(componentText).join('^'),
  );
  return repetitions.join('~').slice(0, MAX_KEPT_CHARACTERS);
}

function componentText(component: Hl7Component): string {
  const count = Math.min(component.subcomponentCount, MAX_KEPT_CHARACTERS);
  if (count < 2) return component.formattedText;
  return Array.from({ length: count }, (_, at) => component.subcomponent(at + 1)).join('&');
}

/** The digits of a number, without plus sign and leading zeros; trailing zeros stay. Null: it is none. */
function readNumber(sent: string): string | null {
  const written = sent.trim();
  const match = written.length > MAX_NUMBER_CHARACTERS ? null : NUMBER.exec(written);
  if (match === null) return null;
  const [, sign = '', whole = '', fraction = ''] = match;
  return `${sign === '-' ? '-' : ''}${whole}${fraction === '' ? '' : `.${fraction}`}`;
}

/** Data type SN: comparator, number, separator, number (HL7 v2.9.1 §2A.2.72). Ranges and ratios are no value. */
function readStructured(value: Hl7Repetition, asSent: string): RowValue {
  const [comparator = '', number = '', ...more] = value.components.map(({ text }) => text.trim());
  const text = readNumber(number);
  if (text === null || more.some((part) => part !== '')) return { kind: 'unreadable', asSent };
  if (comparator === '' || comparator === '=') return { kind: 'number', text };
  if (!COMPARATORS.has(comparator)) return { kind: 'unreadable', asSent };
  return { kind: 'odd-number', text, asSent };
}

const COMPARATORS: ReadonlySet<string> = new Set(['<', '<=', '>', '>=']);

/** CE, CWE or CNE: one of both triplets. */
function readCode(value: Hl7Repetition): RowValue | null {
  for (const first of [1, 4]) {
    if (readCodeSystem(value.component(first + 2).text.trim()) !== 'SCT') continue;
    const code = consciousnessOfSnomed(value.component(first).text.trim());
    if (code !== undefined) return { kind: 'code', code };
  }
  return null;
}
