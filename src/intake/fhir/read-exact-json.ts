import { readJson } from '../set-json/read-json.js';

/** A parsed body, and the digits of its numbers where a JavaScript number does not keep them. */
export interface ExactJson {
  readonly value: unknown;
  readonly digits: Digits;
}

export type ExactRead =
  | { readonly ok: true; readonly json: ExactJson }
  | { readonly ok: false; readonly message: string };

/** Number and text of RFC 8259 §6 and §7, where the body is known to be JSON. */
const TOKEN = /"(?:[^"\\]|\\.)*"|-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?/g;

/** Raw control characters stand in no JSON text, and escaped ones in no FHIR string (R4 datatypes, string). */
const MARK = '\u0001';
const MARK_ESCAPED = /^"\\u0001/i;

/** How the numbers of a body were written. */
export class Digits {
  readonly #lossy = new Map<object, Map<string, string>>();

  note(holder: object, name: string, text: string): void {
    const known = this.#lossy.get(holder) ?? new Map<string, string>();
    this.#lossy.set(holder, known.set(name, text));
  }

  /** The number that `holder` has as `name`, digit for digit: FHIR R4 tells 36.50 from 36.5. */
  textOf(holder: object, name: string): string {
    const value = (holder as Readonly<Record<string, unknown>>)[name];
    return this.#lossy.get(holder)?.get(name) ?? String(value);
  }
}

function isLossy(token: string): boolean {
  return !token.startsWith('"') && String(Number(token)) !== token;
}

/** Reads JSON from bytes as strictly as the set contract does, and keeps the digits of its numbers. */
export function readExactJson(bytes: Buffer): ExactRead {
  const read = readJson(bytes);
  if (!read.ok) {
    const [fault] = read.faults;
    const place = fault === undefined || fault.pointer === '' ? '' : `${fault.pointer}: `;
    return { ok: false, message: `${place}${fault?.message ?? 'the body is not JSON'}` };
  }
  const digits = new Digits();
  const text = new TextDecoder().decode(bytes);
  if (!(text.match(TOKEN) ?? []).some(isLossy)) {
    return { ok: true, json: { value: read.value, digits } };
  }
  return { ok: true, json: { value: parseMarked(text, digits), digits } };
}

function parseMarked(text: string, digits: Digits): unknown {
  const marked = text.replace(TOKEN, (token) => {
    if (isLossy(token)) return `"\\u0001${token}"`;
    return MARK_ESCAPED.test(token) ? token.replace(MARK_ESCAPED, '"\\u0002') : token;
  });
  return JSON.parse(marked, function (this: object, name: string, value: unknown): unknown {
    if (typeof value !== 'string' || !value.startsWith(MARK)) return value;
    digits.note(this, name, value.slice(1));
    return Number(value.slice(1));
  });
}
