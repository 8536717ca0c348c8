import { charsetOf, isSound, nameCharset, type CharsetName } from './charset.js';
import type { Hl7Fault } from './fault.js';
import { Hl7Segment } from './segment.js';
import type { Separators } from './separators.js';
import { shieldCharacters } from './shield-characters.js';

/** How the text of a message is to be read. */
export interface CharsetChoice {
  /** Null when the declared set is not one that is read. */
  readonly name: CharsetName | null;
  /** High bytes without MSH-18 that are no UTF-8 either. */
  readonly undeclared: boolean;
  /** Bytes that are none in the declared set. */
  readonly invalid: boolean;
  readonly faults: readonly Hl7Fault[];
}

const GB = 'GB 18030-2000';

/**
 * Chooses the character set of a message by its MSH-18 (HL7 v2.9.1 §2.13.9.18) and its bytes. The
 * header is read byte by byte, because every set that is read has the separators at their ASCII bytes.
 * @param header the MSH segment, a character a byte
 */
export function chooseCharset(
  bytes: Uint8Array,
  header: string,
  separators: Separators,
): CharsetChoice {
  const declared = declaredIn(header, separators);
  const name = nameCharset(declared.first);
  if (name === null) return { ...SOUND, name: null, faults: [fault('E', NOT_READ)] };
  const also = declared.count > 1 ? [fault('W', 'only the first character set is read')] : [];
  if (isSound(name, bytes)) return { ...SOUND, name, faults: also };
  if (declared.first !== '') {
    const text = `not every byte is a character of ${name}`;
    // High bytes under a declared ASCII are shown as the UTF-8 that they may be.
    const shown = name === 'ASCII' ? 'UNICODE UTF-8' : name;
    return { ...SOUND, name: shown, invalid: true, faults: [...also, fault('W', text)] };
  }
  const undeclared = !isSound('UNICODE UTF-8', bytes);
  const text = undeclared
    ? 'bytes above 127 without a character set, and they are no UTF-8'
    : 'bytes above 127 without a character set; read as UTF-8';
  return { ...SOUND, name: 'UNICODE UTF-8', undeclared, faults: [...also, fault('W', text)] };
}

const NOT_READ =
  'this character set is not read; read are ASCII, 8859/1 to 8859/9, 8859/15, UNICODE UTF-8 ' +
  `and ${GB}`;
const SOUND = { undeclared: false, invalid: false };

function declaredIn(header: string, separators: Separators): { first: string; count: number } {
  const reading = { separators, charset: charsetOf('ASCII') };
  // A byte of a GB 18030 character in an earlier field can be that of the field separator.
  const shielded = shieldCharacters(Buffer.from(header, 'latin1'));
  const inGb = new Hl7Segment(shielded, 1, reading).field(18);
  const field = nameCharset(inGb.text) === GB ? inGb : new Hl7Segment(header, 1, reading).field(18);
  return { first: field.text, count: field.repetitionCount };
}

function fault(severity: 'W' | 'E', text: string): Hl7Fault {
  const location = { segment: 'MSH', occurrence: 1, field: 18 };
  return { location, code: severity === 'E' ? '103' : '102', severity, text };
}
