/** Text of these UTF-16 code units. */
export function textOfUnits(units: Uint16Array): string {
  return Buffer.from(units.buffer).toString('utf16le');
}

/**
 * Lifts the bytes of GB 18030 characters out of the reach of separators, by adding 0x100 to each: the
 * second byte of two, or the second and fourth of four, may be that of a separator or digit. Writing
 * the text back as latin1 takes only the low eight bits and so undoes it.
 * @returns the text, a character a byte
 */
export function shieldCharacters(bytes: Uint8Array): string {
  const units = Uint16Array.from(bytes);
  let at = 0;
  while (at < bytes.length) {
    const length = codeLength(bytes, at);
    if (length > 1) for (let i = at; i < at + length; i += 1) units[i] = (units[i] ?? 0) + 0x100;
    at += length;
  }
  return textOfUnits(units);
}

/** Bytes of the GB 18030 code at a place: one, two or four; one for what is none. */
function codeLength(bytes: Uint8Array, at: number): number {
  const [first = 0, second = 0] = [bytes[at], bytes[at + 1]];
  if (!isLead(first)) return 1;
  if (isDigit(second)) return isLead(bytes[at + 2] ?? 0) && isDigit(bytes[at + 3] ?? 0) ? 4 : 1;
  return second >= 0x40 && second <= 0xfe && second !== 0x7f ? 2 : 1;
}

function isLead(byte: number): boolean {
  return byte >= 0x81 && byte <= 0xfe;
}

function isDigit(byte: number): boolean {
  return byte >= 0x30 && byte <= 0x39;
}
