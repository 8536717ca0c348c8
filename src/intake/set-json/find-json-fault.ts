import type { Fault } from '../../vitals/shapes.js';

/** Thrown inside this file only, to leave the recursion. */
class Found extends Error {
  readonly fault: Fault;

  constructor(fault: Fault) {
    super(fault.message);
    this.fault = fault;
  }
}

/** Number and literal of RFC 8259 §3 and §6; text of §7. Sticky: they match where the cursor stands. */
const NUMBER = /-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?/y;
const LITERAL = /true|false|null/y;
// eslint-disable-next-line no-control-regex -- RFC 8259 §7 forbids exactly these in a text
const TEXT = /"[^"\\\u0000-\u001f]*(?:\\(?:["\\/bfnrt]|u[0-9a-fA-F]{4})[^"\\\u0000-\u001f]*)*"/y;
const SPACE = /[ \t\n\r]*/y;

/**
 * Says where text that `JSON.parse` refuses, or that names a member twice, goes wrong. The engine's own
 * message differs from version to version and often lacks the place.
 * @param text nested no deeper than the reader allows
 */
export function findJsonFault(text: string): Fault {
  try {
    new Scanner(text).document();
  } catch (error) {
    if (error instanceof Found) return error.fault;
    throw error;
  }
  return { pointer: '', message: 'the body is not JSON' };
}

class Scanner {
  readonly #text: string;
  #at = 0;

  constructor(text: string) {
    this.#text = text;
  }

  document(): void {
    this.#value('');
    this.#take(SPACE);
    if (this.#at < this.#text.length) this.#fail('nothing more after the document');
  }

  #value(pointer: string): void {
    this.#take(SPACE);
    const first = this.#text.charAt(this.#at);
    if (first === '{') this.#object(pointer);
    else if (first === '[') this.#array(pointer);
    else if (first === '"') this.#string();
    else if (this.#take(NUMBER) === null && this.#take(LITERAL) === null) this.#fail('a value');
  }

  #object(pointer: string): void {
    const names = new Set<string>();
    this.#at += 1;
    this.#take(SPACE);
    if (this.#skip('}')) return;
    do {
      this.#take(SPACE);
      const start = this.#at;
      const name = this.#string();
      const member = `${pointer}/${name.replaceAll('~', '~0').replaceAll('/', '~1')}`;
      if (names.has(name)) {
        const message = `the member stands twice in its object (${this.#place(start)})`;
        throw new Found({ pointer: member, message });
      }
      names.add(name);
      this.#take(SPACE);
      if (!this.#skip(':')) this.#fail('a colon after the name of the member');
      this.#value(member);
      this.#take(SPACE);
    } while (this.#skip(','));
    if (!this.#skip('}')) this.#fail('a comma or a closing brace');
  }

  #array(pointer: string): void {
    this.#at += 1;
    this.#take(SPACE);
    if (this.#skip(']')) return;
    let index = 0;
    do {
      this.#value(`${pointer}/${index}`);
      this.#take(SPACE);
      index += 1;
    } while (this.#skip(','));
    if (!this.#skip(']')) this.#fail('a comma or a closing bracket');
  }

  #string(): string {
    if (this.#text.charAt(this.#at) !== '"') this.#fail('a member name in double quotes');
    const literal = this.#take(TEXT);
    if (literal === null) this.#fail('a text that is closed and has no raw control characters');
    return JSON.parse(literal) as string;
  }

  #take(pattern: RegExp): string | null {
    pattern.lastIndex = this.#at;
    const [match] = pattern.exec(this.#text) ?? [];
    if (match === undefined) return null;
    this.#at += match.length;
    return match;
  }

  #skip(character: string): boolean {
    if (this.#text.charAt(this.#at) !== character) return false;
    this.#at += 1;
    return true;
  }

  #fail(expected: string): never {
    throw new Found({
      pointer: '',
      message: `the body is not JSON: at ${this.#place(this.#at)}, ${expected} was expected`,
    });
  }

  /** Line and column from 1, in characters. */
  #place(at: number): string {
    const before = this.#text.slice(0, at);
    const line = before.split('\n').length;
    return `line ${line}, column ${at - before.lastIndexOf('\n')}`;
  }
}
