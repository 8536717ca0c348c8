/**
 * FHIR resources as JSON text, decimals digit for digit.
 *
 * FHIR R4 (datatypes, `decimal`): the precision of a decimal is significant, so that 36.50 is not
 * 36.5. A JavaScript number cannot hold that, hence {@link fhirDecimal} and {@link toFhirJson}.
 */

/** Number grammar of RFC 8259 §6, which is FHIR's for `decimal` as well. */
const DECIMAL = /^-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?$/;

const MARK = '\u0001decimal';

/**
 * What a marked decimal looks like after `JSON.stringify`. Within a JSON string a quote never
 * stands without a backslash before it, so no text of a user can match `{"…":"…"}`: only an object
 * with this very key does.
 */
const MARKED = /\{"\\u0001decimal":"([-+.0-9eE]+)"\}/g;
const MARKED_START = '{"\\u0001decimal":"';

/** A number whose digits are not those that JavaScript would print; behaves as a number elsewhere. */
class ExactDecimal extends Number {
  readonly #text: string;

  constructor(text: string) {
    super(text);
    this.#text = text;
  }

  toJSON(): Readonly<Record<string, string>> {
    return { [MARK]: this.#text };
  }
}

/**
 * A decimal text as a value for a FHIR resource that is to be written by {@link toFhirJson}.
 *
 * @throws RangeError when the text is no JSON number: publishing something else than what is kept
 *   would be worse than failing.
 */
export function fhirDecimal(text: string): number {
  if (!DECIMAL.test(text)) throw new RangeError('A kept value is not a decimal number');
  const plain = Number(text);
  // Typed as number because the FHIR types know no other decimal.
  return String(plain) === text ? plain : (new ExactDecimal(text) as unknown as number);
}

/** The JSON text of a resource, or of any value that holds resources. */
export function toFhirJson(resource: unknown): string {
  const text = JSON.stringify(resource);
  return text.includes(MARKED_START) ? text.replace(MARKED, '$1') : text;
}
