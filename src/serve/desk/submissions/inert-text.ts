/** Bytes that arrived, as text that does nothing: every character can be seen, and none is markup. */

/** More is to be had as a file. */
export const MOST_SHOWN_BYTES = 256 * 1024;
/** Of what is not text. */
const MOST_DUMPED_BYTES = 4 * 1024;
const ROW_BYTES = 16;

export interface InertText {
  readonly kind: 'text' | 'bytes';
  readonly text: string;
  /** The end is left out. */
  readonly isCut: boolean;
}

/**
 * Text as it stands, if it is UTF-8, with a name in the place of each control character; a line end keeps
 * its line, and a plain line feed says nothing. Anything else as a table of its bytes.
 */
export function toInertText(bytes: Buffer): InertText {
  const shown = bytes.subarray(0, MOST_SHOWN_BYTES);
  const isCut = bytes.length > shown.length;
  const text = decode(shown, isCut);
  if (text === null) {
    const dumped = bytes.subarray(0, MOST_DUMPED_BYTES);
    return { kind: 'bytes', text: dump(dumped), isCut: bytes.length > dumped.length };
  }
  return { kind: 'text', text: picture(text), isCut };
}

function decode(bytes: Buffer, isCut: boolean): string | null {
  // Cut off in the middle of a character, the last bytes are left out; ignoreBOM keeps what is there.
  const decoder = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
  try {
    return decoder.decode(bytes, { stream: isCut });
  } catch {
    return null;
  }
}

// Directions of writing could make a text read otherwise than it is (Unicode UTS #55, §3).
const TURNING = /[\u061C\u200E\u200F\u202A-\u202E\u2066-\u2069]/g;
// eslint-disable-next-line no-control-regex -- control characters are what it is about
const CONTROL = /[\u0000-\u0008\u000B\u000C\u000E-\u001F\u007F]/g;

/** Names of control characters that messages have (ISO 646); the others by their number. */
const NAMES: Readonly<Record<number, string>> = { 0: 'NUL', 0x0b: 'VT', 0x1b: 'ESC', 0x1c: 'FS' };

function nameOf(character: string): string {
  const code = character.charCodeAt(0);
  return `<${NAMES[code] ?? `U+${code.toString(16).toUpperCase().padStart(4, '0')}`}>`;
}

/** Text of which every character can be seen; a line end keeps its line. */
export function picture(text: string): string {
  return text
    .replace(CONTROL, nameOf)
    .replace(TURNING, nameOf)
    .replace(/\r\n/g, '<CR><LF>\n')
    .replace(/\r/g, '<CR>\n');
}

/** Sixteen bytes a line: where, in hexadecimal, as ASCII. */
function dump(bytes: Buffer): string {
  const lines: string[] = [];
  for (let at = 0; at < bytes.length; at += ROW_BYTES) {
    const row = [...bytes.subarray(at, at + ROW_BYTES)];
    const digits = row.map((byte) => byte.toString(16).padStart(2, '0')).join(' ');
    const letters = row
      .map((byte) => (byte >= 0x20 && byte < 0x7f ? String.fromCharCode(byte) : '.'))
      .join('');
    lines.push(
      `${at.toString(16).padStart(6, '0')}  ${digits.padEnd(ROW_BYTES * 3 - 1)}  ${letters}`,
    );
  }
  return lines.join('\n');
}
