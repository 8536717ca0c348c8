/** Where in the text of a JSON document a member or an item stands. */

/** A stretch of text: from inclusive, to exclusive. */
export interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** Deeper than anything that is taken. */
const MOST_LEVELS = 64;

/** Reads just as much of JSON as finding places needs; the text has been parsed before. */
class Places {
  readonly #text: string;
  readonly #found = new Map<string, Stretch>();
  #at = 0;

  constructor(text: string) {
    this.#text = text;
  }

  read(): Map<string, Stretch> {
    this.#value('', 0);
    return this.#found;
  }

  #value(pointer: string, level: number): void {
    this.#space();
    const from = this.#at;
    const first = this.#text[this.#at];
    if (level > MOST_LEVELS) throw new Error('too deep');
    if (first === '{') this.#members(pointer, level);
    else if (first === '[') this.#items(pointer, level);
    else if (first === '"') this.#string();
    else this.#atom();
    this.#found.set(pointer, { from, to: this.#at });
  }

  #members(pointer: string, level: number): void {
    this.#at += 1;
    for (;;) {
      this.#space();
      if (this.#text[this.#at] !== '"') break;
      const name = JSON.parse(this.#string()) as string;
      this.#space();
      this.#at += 1; // :
      const step = name.replaceAll('~', '~0').replaceAll('/', '~1');
      this.#value(`${pointer}/${step}`, level + 1);
      if (!this.#goesOn()) break;
    }
    this.#space();
    this.#at += 1; // }
  }

  #items(pointer: string, level: number): void {
    this.#at += 1;
    this.#space();
    if (this.#text[this.#at] !== ']') {
      for (let index = 0; ; index += 1) {
        this.#value(`${pointer}/${index}`, level + 1);
        if (!this.#goesOn()) break;
      }
    }
    this.#space();
    this.#at += 1; // ]
  }

  #goesOn(): boolean {
    this.#space();
    if (this.#text[this.#at] !== ',') return false;
    this.#at += 1;
    return true;
  }

  #string(): string {
    const from = this.#at;
    this.#at += 1;
    while (this.#at < this.#text.length && this.#text[this.#at] !== '"') {
      this.#at += this.#text[this.#at] === '\\' ? 2 : 1;
    }
    this.#at += 1;
    return this.#text.slice(from, this.#at);
  }

  #atom(): void {
    const from = this.#at;
    while (/[-+.\w]/.test(this.#text[this.#at] ?? '')) this.#at += 1;
    if (this.#at === from) throw new Error('no JSON');
  }

  #space(): void {
    while (/[\s\uFEFF]/.test(this.#text[this.#at] ?? '')) this.#at += 1;
  }
}

/** Every value by its RFC 6901 pointer; none where the text is no JSON. Of a member's name told twice the last. */
export function locateJson(text: string): ReadonlyMap<string, Stretch> {
  try {
    JSON.parse(text.replace(/^\uFEFF/, ''));
    return new Places(text).read();
  } catch {
    return new Map();
  }
}
