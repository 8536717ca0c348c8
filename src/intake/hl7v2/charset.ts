import { isAscii, isUtf8 } from 'node:buffer';

/**
 * Character sets that are read: names of HL7 table 0211. The others of the table are refused: in
 * UTF-16, UTF-32, BIG-5 or an ISO 2022 set the bytes of a separator can be half of a character.
 */
export type CharsetName =
  'ASCII' | `8859/${1 | 2 | 3 | 4 | 5 | 6 | 7 | 8 | 9 | 15}` | 'UNICODE UTF-8' | 'GB 18030-2000';

/** How the bytes of one message become text. Bytes are carried as text, a character a byte. */
export interface Charset {
  readonly name: CharsetName;
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
  if (name === 'ASCII') return false;
  if (name === 'UNICODE UTF-8') return isUtf8(bytes);
  return charsetOf(name).decode(Buffer.from(bytes).toString('latin1')) !== null;
}

/** The decoder of a character set. */
export function charsetOf(name: CharsetName): Charset {
  let charset = charsets.get(name);
  if (charset === undefined) {
    charset = buildCharset(name);
    charsets.set(name, charset);
  }
  return charset;
}

const charsets = new Map<CharsetName, Charset>();

function buildCharset(name: CharsetName): Charset {
  if (name === 'ASCII') return bySingleBytes(name, '\ufffd'.repeat(96));
  if (name === 'UNICODE UTF-8') return byTextDecoder(name, 'utf-8');
  if (name === 'GB 18030-2000') return byTextDecoder(name, 'gb18030');
  return bySingleBytes(name, upperHalf(`iso-8859-${name.slice('8859/'.length)}`));
}

/** Needs Node's full ICU, which its own builds have had since version 13. */
function byTextDecoder(name: CharsetName, label: string): Charset {
  const options = { ignoreBOM: true };
  const strict = new TextDecoder(label, { ...options, fatal: true });
  const loose = new TextDecoder(label, options);
  const decode = (bytes: string) => {
    try {
      return strict.decode(Buffer.from(bytes, 'latin1'));
    } catch {
      return null;
    }
  };
  return { name, decode, decodeLoosely: (bytes) => loose.decode(Buffer.from(bytes, 'latin1')) };
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

const HIGH = /[\x80-\xff]/g;

function bySingleBytes(name: CharsetName, half: string): Charset {
  const meaning = '\ufffd'.repeat(0x20) + half;
  const decodeLoosely = (bytes: string) =>
    bytes.replace(HIGH, (byte) => meaning.charAt(byte.charCodeAt(0) - 0x80));
  const decode = (bytes: string) => {
    const text = decodeLoosely(bytes);
    return text.includes('\ufffd') ? null : text;
  };
  return { name, decode, decodeLoosely };
}

// Codes of two and four bytes (GB 18030-2000); the second of two may be the byte of a separator.
const GB_CODE = /[\x81-\xfe](?:[\x30-\x39][\x81-\xfe][\x30-\x39]|[\x40-\x7e\x80-\xfe])/g;

/**
 * Lifts the bytes of GB 18030 characters out of the reach of separators, by adding 0x100 to each.
 * Writing the text back as latin1 takes only the low eight bits and so undoes it.
 */
export function shieldCharacters(bytes: string): string {
  return bytes.replace(GB_CODE, (code) =>
    String.fromCharCode(...Array.from(code, (byte) => byte.charCodeAt(0) + 0x100)),
  );
}
