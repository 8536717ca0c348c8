import { isAscii, isUtf8 } from 'node:buffer';
import { textOfUnits } from './shield-characters.js';

/**
 * Character sets that are read: names of HL7 table 0211. The others of the table are refused: in
 * UTF-16, UTF-32, BIG-5 or an ISO 2022 set the bytes of a separator can be half of a character.
 */
const NAMES = [
  'ASCII',
  '8859/1',
  '8859/2',
  '8859/3',
  '8859/4',
  '8859/5',
  '8859/6',
  '8859/7',
  '8859/8',
  '8859/9',
  '8859/15',
  'UNICODE UTF-8',
  'GB 18030-2000',
] as const;

export type CharsetName = (typeof NAMES)[number];

/** How the bytes of one message become text. Bytes are carried as text, a character a byte. */
export interface Charset {
  /** Whether all bytes are characters. */
  readonly isSound: (bytes: Uint8Array) => boolean;
  /** The text, or null when the bytes are none in this set. */
  readonly decode: (bytes: string) => string | null;
  /** The text, with U+FFFD for what is none. */
  readonly decodeLoosely: (bytes: string) => string;
}

/** What MSH-18 declares, in the spelling of table 0211 or in one that means the same, or null. */
export function nameCharset(declared: string): CharsetName | null {
  const plain = declared.toUpperCase().replace(/[\s_-]/g, '');
  const part = /^(?:ISO)?8859\/?([1-9]|15)$/.exec(plain)?.[1];
  if (part !== undefined) return `8859/${part}` as CharsetName;
  return SPELLINGS.get(plain) ?? null;
}

/**
 * `UNICODE` alone is the older name; a message that reached its MSH-18 in ASCII bytes can only be
 * UTF-8. Senders write `UTF-8` too (common practice, no source).
 */
const SPELLINGS: ReadonlyMap<string, CharsetName> = new Map([
  ['', 'ASCII'],
  ['""', 'ASCII'],
  ['ASCII', 'ASCII'],
  ['ISOIR6', 'ASCII'],
  ['UNICODEUTF8', 'UNICODE UTF-8'],
  ['UNICODE', 'UNICODE UTF-8'],
  ['UTF8', 'UNICODE UTF-8'],
  ['GB180302000', 'GB 18030-2000'],
  ['GB18030', 'GB 18030-2000'],
]);

/** Whether every byte is a character in the set. */
export function isSound(name: CharsetName, bytes: Uint8Array): boolean {
  if (isAscii(bytes)) return true;
  return charsetOf(name).isSound(bytes);
}

/** The decoder of a character set. */
export function charsetOf(name: CharsetName): Charset {
  return CHARSETS[name];
}

function buildCharset(name: CharsetName): Charset {
  if (name === 'ASCII') return bySingleBytes('\ufffd'.repeat(96));
  if (name === 'UNICODE UTF-8') return byTextDecoder('utf-8');
  if (name === 'GB 18030-2000') return byTextDecoder('gb18030');
  return bySingleBytes(upperHalf(`iso-8859-${name.slice('8859/'.length)}`));
}

function byTextDecoder(label: string): Charset {
  const options = { ignoreBOM: true };
  const strict = new TextDecoder(label, { ...options, fatal: true });
  const loose = new TextDecoder(label, options);
  const decode = (bytes: Uint8Array) => {
    try {
      return strict.decode(bytes);
    } catch {
      return null;
    }
  };
  return {
    isSound: (bytes) => (label === 'utf-8' ? isUtf8(bytes) : decode(bytes) !== null),
    decode: (bytes) => decode(Buffer.from(bytes, 'latin1')),
    decodeLoosely: (bytes) => loose.decode(Buffer.from(bytes, 'latin1')),
  };
}

/**
 * What the bytes A0 to FF mean. `TextDecoder` reads its labels iso-8859-1 and -9 as the Windows sets,
 * which differ from them in the bytes 80 to 9F only; those are no characters of any part of ISO 8859
 * and are not asked here.
 */
function upperHalf(label: string): string {
  const decoder = new TextDecoder(label);
  let half = '';
  for (let byte = 0xa0; byte <= 0xff; byte += 1) half += decoder.decode(Uint8Array.of(byte));
  return half;
}

/** @param half what the bytes A0 to FF mean; those from 80 to 9F are never characters */
function bySingleBytes(half: string): Charset {
  const meanings = new Uint16Array(256).fill(NO_CHARACTER);
  for (let byte = 0; byte < 0x80; byte += 1) meanings[byte] = byte;
  for (let byte = 0xa0; byte <= 0xff; byte += 1) meanings[byte] = half.charCodeAt(byte - 0xa0);
  const isSound = (bytes: Uint8Array) => bytes.every((byte) => meanings[byte] !== NO_CHARACTER);
  const decodeLoosely = (bytes: string) =>
    textOfUnits(Uint16Array.from(Buffer.from(bytes, 'latin1'), (byte) => meanings[byte] ?? byte));
  const decode = (bytes: string) => {
    const text = decodeLoosely(bytes);
    return text.includes('\ufffd') ? null : text;
  };
  return { isSound, decode, decodeLoosely };
}

const NO_CHARACTER = 0xfffd;

/**
 * Made when the program starts: a Node without full ICU (its own builds have had it since version 13)
 * lacks some of these, and must say so before it takes a message.
 */
const CHARSETS = Object.fromEntries(NAMES.map((name) => [name, buildCharset(name)])) as Readonly<
  Record<CharsetName, Charset>
>;
