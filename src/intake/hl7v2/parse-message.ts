import { charsetOf, type CharsetName } from './charset.js';
import { chooseCharset } from './choose-charset.js';
import type { ErrorCondition, Hl7Fault, Hl7Location } from './fault.js';
import { Hl7Segment, type Reading } from './segment.js';
import {
  NO_SEPARATORS,
  readSeparators,
  RECOMMENDED,
  separatesFields,
  type Separators,
} from './separators.js';
import { shieldCharacters } from './shield-characters.js';
import { splitSegments } from './split-segments.js';

/** What was odd about the text of a message. */
export interface TextFlags {
  /** High bytes, no MSH-18, and no UTF-8: nothing that is not ASCII can be trusted. */
  readonly undeclaredCharset: boolean;
  /** Bytes that the declared set does not have: only PID-3 may identify. */
  readonly invalidCharset: boolean;
  /** Line feeds were met, at the end of segments or in them. */
  readonly lineFeeds: boolean;
}

/**
 * One HL7 v2 message, read as far as its syntax goes; what its segments mean is not looked at.
 *
 * A fault of severity E that is not about MSH says that a part of the message could not be told: then
 * nothing of it may be filed without a person, because a lost PID gives its readings to the patient
 * before.
 */
export interface Hl7Message {
  /** The MSH segment. Null when the bytes do not begin with one. */
  readonly header: Hl7Segment | null;
  /** All segments, MSH first; MSH alone when separators or character set cannot be read. */
  readonly segments: readonly Hl7Segment[];
  /** As the sender writes, or as far as that is usable; an answer is written with them. */
  readonly separators: Separators;
  /** What the text was read as; null when the declared set is not one that is read. */
  readonly charset: CharsetName | null;
  readonly flags: TextFlags;
  readonly faults: readonly Hl7Fault[];
}

/** Keeps the list short when every line is wrong. */
const MAX_FAULTS = 50;

/**
 * Reads the bytes of one message, without the bytes that frame it. Whatever they are, it answers and
 * never throws: what is wrong stands in `faults`. Text is decoded when it is asked for.
 */
export function parseMessage(bytes: Uint8Array): Hl7Message {
  const content = bytes.subarray(leadLength(bytes));
  const raw = Buffer.from(content.buffer, content.byteOffset, content.length).toString('latin1');
  if (!raw.startsWith('MSH')) {
    return unreadable(null, RECOMMENDED, problem(null, '100', 'the bytes do not begin with MSH'));
  }
  const header = /^[^\r\n]*/.exec(raw)?.[0] ?? raw;
  const separators = readSeparators(header);
  if (separators === null) return withoutSeparators(header);
  const choice = chooseCharset(content, header, separators);
  const reading = { separators, charset: charsetOf(choice.name ?? 'ASCII') };
  const text = choice.name === 'GB 18030-2000' ? shieldCharacters(content) : raw;
  const lines = splitSegments(choice.name === null ? header : text, separators.field);
  const { segments, faults } = nameSegments(lines, reading);
  return {
    header: segments[0] ?? null,
    segments,
    separators,
    charset: choice.name,
    flags: {
      undeclaredCharset: choice.undeclared,
      invalidCharset: choice.invalid,
      lineFeeds: raw.includes('\n'),
    },
    faults: [...choice.faults, ...faults],
  };
}

/** A byte order mark and empty lines before the message, which some senders put there. */
export function leadLength(bytes: Uint8Array): number {
  let at = bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? 3 : 0;
  while (bytes[at] === 0x0d || bytes[at] === 0x0a) at += 1;
  return at;
}

/** Makes segments of the lines, up to a second header, which begins another message. */
function nameSegments(lines: readonly string[], reading: Reading) {
  const segments: Hl7Segment[] = [];
  const faults: Hl7Fault[] = [];
  const counts = new Map<string, number>();
  const report = (fault: Hl7Fault) => {
    if (faults.length < MAX_FAULTS) faults.push(fault);
  };
  for (const [index, line] of lines.entries()) {
    if (!isSegment(line, reading.separators.field)) {
      report(problem(null, '100', `line ${index + 1} is no segment`));
      continue;
    }
    const id = line.slice(0, 3);
    const occurrence = (counts.get(id) ?? 0) + 1;
    counts.set(id, occurrence);
    if (id === 'MSH' && occurrence > 1) {
      const text = 'another message begins before this one ends';
      report(problem({ segment: id, occurrence }, '100', text));
      break;
    }
    segments.push(new Hl7Segment(line, occurrence, reading));
  }
  return { segments, faults };
}

const SEGMENT_NAME = /^[A-Z][A-Z0-9]{2}$/;

function isSegment(line: string, fieldSeparator: string): boolean {
  return (
    SEGMENT_NAME.test(line.slice(0, 3)) && (line.length === 3 || line.charAt(3) === fieldSeparator)
  );
}

/** MSH is there, but its separators are not: its fields can be told at most. */
function withoutSeparators(header: string): Hl7Message {
  const field = header.charAt(3);
  const usable = separatesFields(field);
  const separators =
    usable && readSeparators(`MSH${field}^~\\&`) !== null ? { ...RECOMMENDED, field } : RECOMMENDED;
  const reading = { separators: { ...NO_SEPARATORS, field }, charset: charsetOf('ASCII') };
  const segment = new Hl7Segment(usable ? header : 'MSH', 1, reading);
  const text = usable
    ? 'MSH-2 must be four or five different signs, none of them a letter, digit or space'
    : 'MSH-1 must be a sign, not a letter, digit, space or control character';
  return unreadable(segment, separators, problem(segment.at(usable ? 2 : 1), '102', text));
}

function unreadable(
  header: Hl7Segment | null,
  separators: Separators,
  fault: Hl7Fault,
): Hl7Message {
  return {
    header,
    segments: header === null ? [] : [header],
    separators,
    charset: null,
    flags: { undeclaredCharset: false, invalidCharset: false, lineFeeds: false },
    faults: [fault],
  };
}

function problem(location: Hl7Location | null, code: ErrorCondition, text: string): Hl7Fault {
  return { location, code, severity: 'E', text };
}
