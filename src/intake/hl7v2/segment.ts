import type { Charset } from './charset.js';
import { decodeEscapes, type EscapeOptions } from './escapes.js';
import type { Hl7Location } from './fault.js';
import { NO_SEPARATORS, type Separators } from './separators.js';

/** How the pieces of one message are read. Their text is kept raw: a character a byte. */
export interface Reading {
  readonly separators: Separators;
  readonly charset: Charset;
}

/** Segments whose first field is the field separator itself. */
const HEADERS: ReadonlySet<string> = new Set(['MSH', 'FHS', 'BHS']);

/** One segment. Fields are split when they are first asked for; all numbers count from 1. */
export class Hl7Segment {
  /** Three signs, such as `OBX`. */
  readonly id: string;
  /** Which segment of this name it is in the message. */
  readonly occurrence: number;
  readonly #raw: string;
  readonly #reading: Reading;
  #pieces: readonly string[] | null = null;

  constructor(raw: string, occurrence: number, reading: Reading) {
    this.id = raw.slice(0, 3);
    this.occurrence = occurrence;
    this.#raw = raw;
    this.#reading = reading;
  }

  /** The number of the last field that is there, perhaps empty. */
  get fieldCount(): number {
    const pieces = this.#split().length;
    return HEADERS.has(this.id) ? pieces : pieces - 1;
  }

  /** A field; one that is not there is empty. */
  field(number: number): Hl7Field {
    if (!HEADERS.has(this.id)) return new Hl7Field(this.#split()[number] ?? '', this.#reading);
    if (number === 1) return wholeField(this.#reading.separators.field, this.#reading);
    const raw = this.#split()[number - 1] ?? '';
    return number === 2 ? wholeField(raw, this.#reading) : new Hl7Field(raw, this.#reading);
  }

  /** The text of a part of the first repetition of a field. */
  text(field: number, component = 1, subcomponent = 1): string {
    return this.field(field).repetition(1).component(component).subcomponent(subcomponent);
  }

  /** Where a part of this segment stands, for a fault. */
  at(field?: number, repetition?: number, component?: number, subcomponent?: number): Hl7Location {
    return {
      segment: this.id,
      occurrence: this.occurrence,
      ...(field === undefined ? {} : { field }),
      ...(repetition === undefined ? {} : { repetition }),
      ...(component === undefined ? {} : { component }),
      ...(subcomponent === undefined ? {} : { subcomponent }),
    };
  }

  #split(): readonly string[] {
    this.#pieces ??= this.#raw.split(this.#reading.separators.field);
    return this.#pieces;
  }
}

function wholeField(raw: string, reading: Reading): Hl7Field {
  return new Hl7Field(raw, { ...reading, separators: NO_SEPARATORS });
}

/** One field with all its repetitions. */
export class Hl7Field {
  readonly #raw: string;
  readonly #reading: Reading;
  #pieces: readonly string[] | null = null;

  constructor(raw: string, reading: Reading) {
    this.#raw = raw;
    this.#reading = reading;
  }

  /** Nothing between the separators: the sender makes no statement. */
  get isEmpty(): boolean {
    return this.#raw === '';
  }

  /** `""` alone: the sender wants the value deleted (HL7 v2.9.1 §2.4.3, delete indicator). */
  get isDeletion(): boolean {
    return this.#raw === '""';
  }

  /** The bytes as they came, escapes and separators with them. */
  get rawBytes(): Buffer {
    return Buffer.from(this.#raw, 'latin1');
  }

  /** None when the field is empty. */
  get repetitionCount(): number {
    return this.#split().length;
  }

  /** All repetitions in their order, made anew each time. */
  get repetitions(): readonly Hl7Repetition[] {
    return this.#split().map((raw) => new Hl7Repetition(raw, this.#reading));
  }

  /** One repetition; one that is not there is empty. */
  repetition(number: number): Hl7Repetition {
    return new Hl7Repetition(this.#split()[number - 1] ?? '', this.#reading);
  }

  /** The text of the first subcomponent of the first component of the first repetition. */
  get text(): string {
    return this.repetition(1).component(1).text;
  }

  #split(): readonly string[] {
    this.#pieces ??= splitUnlessEmpty(this.#raw, this.#reading.separators.repetition);
    return this.#pieces;
  }
}

/** One repetition of a field. */
export class Hl7Repetition {
  readonly #raw: string;
  readonly #reading: Reading;
  #pieces: readonly string[] | null = null;

  constructor(raw: string, reading: Reading) {
    this.#raw = raw;
    this.#reading = reading;
  }

  get isEmpty(): boolean {
    return this.#raw === '';
  }

  /** None when the repetition is empty. */
  get componentCount(): number {
    return this.#split().length;
  }

  /** All components in their order, made anew each time. */
  get components(): readonly Hl7Component[] {
    return this.#split().map((raw) => new Hl7Component(raw, this.#reading));
  }

  /** One component; one that is not there is empty. */
  component(number: number): Hl7Component {
    return new Hl7Component(this.#split()[number - 1] ?? '', this.#reading);
  }

  #split(): readonly string[] {
    this.#pieces ??= splitUnlessEmpty(this.#raw, this.#reading.separators.component);
    return this.#pieces;
  }
}

const PLAIN: EscapeOptions = { formatted: false, hexadecimal: true };
const FORMATTED: EscapeOptions = { formatted: true, hexadecimal: true };

/** One component of a repetition. */
export class Hl7Component {
  readonly #raw: string;
  readonly #reading: Reading;
  #pieces: readonly string[] | null = null;

  constructor(raw: string, reading: Reading) {
    this.#raw = raw;
    this.#reading = reading;
  }

  get isEmpty(): boolean {
    return this.#raw === '';
  }

  /** `""`: the sender wants this part deleted. */
  get isDeletion(): boolean {
    return this.#raw === '""';
  }

  /** The text of the first subcomponent. A reader that expects no other must look at the count. */
  get text(): string {
    return this.subcomponent(1);
  }

  /** As `text`, for the data types TX, FT and CF: with line breaks, without highlighting. */
  get formattedText(): string {
    return decodeText(this.#split()[0] ?? '', this.#reading, FORMATTED);
  }

  get subcomponentCount(): number {
    return this.#split().length;
  }

  /** The text of one subcomponent; one that is not there is empty. */
  subcomponent(number: number): string {
    return decodeText(this.#split()[number - 1] ?? '', this.#reading, PLAIN);
  }

  #split(): readonly string[] {
    this.#pieces ??= splitUnlessEmpty(this.#raw, this.#reading.separators.subcomponent);
    return this.#pieces;
  }
}

function splitUnlessEmpty(raw: string, separator: string): readonly string[] {
  if (raw === '') return [];
  return raw.includes(separator) ? raw.split(separator) : [raw];
}

// eslint-disable-next-line no-control-regex -- ASCII without U+0000 needs no decoding
const ASCII_TEXT = /^[\x01-\x7f]*$/;

/**
 * Text of a piece that is split as far as it goes: escapes, then the character set, so that `\X..\`
 * may name the bytes of one character one by one. Where these bytes are none of the set, they stay
 * as they were written. U+0000 goes: no text column can hold it.
 */
function decodeText(raw: string, reading: Reading, options: EscapeOptions): string {
  const { charset, separators } = reading;
  const bytes = decodeEscapes(raw, separators, options);
  if (ASCII_TEXT.test(bytes)) return bytes;
  const text =
    charset.decode(bytes) ??
    charset.decodeLoosely(decodeEscapes(raw, separators, { ...options, hexadecimal: false }));
  return text.replaceAll('\u0000', '');
}
