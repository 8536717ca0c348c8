import { parseMessage } from '../../intake/hl7v2/parse-message.js';

/** What a receiver said of a message. */
export interface Acknowledgement {
  /** MSA-1 (HL7 table 0008). */
  readonly code: string;
  /** MSA-2: the message that it is about. */
  readonly controlId: string;
  /** What ERR says is wrong, in words; empty: nothing. */
  readonly words: string;
}

/** Null: it has no MSA. */
export function readAcknowledgement(frame: Buffer): Acknowledgement | null {
  const { segments } = parseMessage(frame);
  const msa = segments.find(({ id }) => id === 'MSA');
  if (msa === undefined) return null;
  const errors = segments
    .filter(({ id }) => id === 'ERR')
    .map((err) => err.text(8) || err.text(3, 2) || err.text(3));
  return {
    code: msa.text(1),
    controlId: msa.field(2).rawBytes.toString('latin1'),
    words: errors.filter((text) => text !== '').join('; '),
  };
}
