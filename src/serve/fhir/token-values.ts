/** Values of search parameters taken apart (FHIR R4 §3.1.1.4.19 for the escapes). */

/** A token as asked for: system undefined: any; '': none; code '': any code of the system. */
export interface Token {
  readonly system: string | undefined;
  readonly code: string;
}

/** What is wrong with a value: words for the client that follow the name of the parameter. */
export class ValueFault extends Error {
  override readonly name = 'ValueFault';
}

/** Splits where the separator stands without a backslash before it; the escapes stay. */
function splitUnescaped(text: string, separator: ',' | '|' | '$'): string[] {
  const parts: string[] = [];
  let part = '';
  for (let i = 0; i < text.length; i += 1) {
    const character = text.charAt(i);
    if (character === '\\') {
      part += character + text.charAt(i + 1);
      i += 1;
    } else if (character === separator) {
      parts.push(part);
      part = '';
    } else part += character;
  }
  return [...parts, part];
}

/** @throws ValueFault for a backslash before anything but a comma, a bar, a dollar or a backslash. */
function withoutEscapes(text: string): string {
  return text.replace(/\\(.?)/gs, (_, character: string) => {
    if (character === '' || !',|$\\'.includes(character)) {
      throw new ValueFault('has a backslash that escapes nothing');
    }
    return character;
  });
}

/** The alternatives of a value, still escaped. */
export function splitAlternatives(value: string): string[] {
  const alternatives = splitUnescaped(value, ',');
  if (alternatives.includes('')) throw new ValueFault('has an empty value');
  return alternatives;
}

/**
 * The two values of a composite, still escaped.
 *
 * @throws ValueFault when there are not two, with a dollar between them.
 */
export function splitComposite(value: string): readonly [string, string] {
  const [first = '', second = '', ...more] = splitUnescaped(value, '$');
  if (first === '' || second === '' || more.length > 0) {
    throw new ValueFault('takes two values with a dollar sign between them');
  }
  return [first, second];
}

/** The parts between bars, without escapes. */
export function splitBars(value: string): string[] {
  return splitUnescaped(value, '|').map(withoutEscapes);
}

export function readToken(value: string): Token {
  const parts = splitBars(value);
  const [first = '', second] = parts;
  if (parts.length > 2)
    throw new ValueFault('has more than one bar; write \\| for a bar in a code');
  if (second === undefined) return { system: undefined, code: first };
  if (first === '' && second === '') throw new ValueFault('has neither a system nor a code');
  return { system: first, code: second };
}

/** A value that is no token: an id or a word. */
export function readPlain(value: string): string {
  return withoutEscapes(value);
}

/** Whether a coding answers to a token. */
export function matchesToken(
  { system, code }: Token,
  coding: { readonly system: string; readonly code: string },
): boolean {
  return (
    (system === undefined || system === coding.system) && (code === '' || code === coding.code)
  );
}
