/** The characters that structure one message (HL7 v2.9.1 §2.4.4), each a single printable ASCII sign. */
export interface Separators {
  readonly field: string;
  readonly component: string;
  readonly repetition: string;
  readonly escape: string;
  readonly subcomponent: string;
  /** MSH-2 has it from v2.7 on. */
  readonly truncation: string | null;
}

/** What the standard recommends; used where a message names none that can be used. */
export const RECOMMENDED: Separators = {
  field: '|',
  component: '^',
  repetition: '~',
  escape: '\\',
  subcomponent: '&',
  truncation: null,
};

/** Separators that stand in no text, for a field that is not to be split. */
export const NO_SEPARATORS: Separators = {
  field: '\uffff',
  component: '\uffff',
  repetition: '\uffff',
  escape: '\uffff',
  subcomponent: '\uffff',
  truncation: null,
};

const SIGN = /^[!-/:-@[-`{-~]$/;

/**
 * Reads the separators from the start of an MSH, FHS or BHS segment.
 * @returns null when they are not four or five different signs after the field separator: a letter,
 * digit, space or control character among them could not be told from what it separates
 */
export function readSeparators(header: string): Separators | null {
  const field = header.charAt(3);
  const end = header.indexOf(field, 4);
  const encoding = end < 0 ? header.slice(4) : header.slice(4, end);
  const signs = Array.from(field + encoding);
  const usable = signs.every((sign) => SIGN.test(sign)) && new Set(signs).size === signs.length;
  const [, component, repetition, escape, subcomponent, truncation = null] = signs;
  if (!usable || signs.length > 6 || subcomponent === undefined) return null;
  return { field, component, repetition, escape, subcomponent, truncation } as Separators;
}

/** Whether the sign after `MSH` can separate fields at all. */
export function separatesFields(sign: string): boolean {
  return SIGN.test(sign);
}

/** MSH-2 as these separators are written. */
export function encodingCharacters(separators: Separators): string {
  const { component, repetition, escape, subcomponent, truncation } = separators;
  return component + repetition + escape + subcomponent + (truncation ?? '');
}
