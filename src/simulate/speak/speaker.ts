/** What every protocol does for a device: put a measurement into a message, and bring it to the gateway. */
import type { Verdict } from '../../vitals/words.js';
import type { Measurement } from '../measurement.js';
import type { Cut } from '../wire/mllp-link.js';

/** What the gateway said of a message. */
export interface Answer {
  /** HTTP status, or acknowledgement code. */
  readonly code: string;
  /** It was taken: it is on disk. */
  readonly isTaken: boolean;
  /** Of each reading, where the answer tells. */
  readonly verdicts: readonly Verdict[] | null;
  /** How many readings are out, and how many wait or were refused, where the answer tells no more. */
  readonly published?: { readonly out: number; readonly kept: number };
  /** It says that it had this message before. */
  readonly isRepeat: boolean;
  /** What was wrong, in the words of the gateway. */
  readonly words: string;
}

/** A message that is written, and that can be sent again as it is. */
export interface Message {
  /** Null: no answer came before the end. */
  readonly deliver: (cut?: Cut) => Promise<Answer | null>;
}

export interface Speaker {
  /** @param id no other message has it: a UUID */
  readonly write: (measurement: Measurement, id: string) => Message;
}
