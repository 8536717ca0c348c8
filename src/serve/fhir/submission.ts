/** What was sent in to be kept, and what became of it. */
import type { Digits, SentEntry } from '../../compose/fhir-intake.js';
import type { HttpError } from '../http/http-error.js';
import type { Caller } from '../http/route.js';
import type { EntryAnswer } from './entry-answers.js';

export interface Submission {
  readonly caller: Caller;
  readonly bytes: Buffer;
  readonly contentType: string;
  readonly kind: 'single' | 'batch' | 'transaction';
  readonly entries: readonly SentEntry[];
  readonly digits: Digits;
}

export type EntryResult =
  | { readonly kind: 'answered'; readonly answer: EntryAnswer }
  | { readonly kind: 'refused'; readonly error: HttpError };

export interface Delivered {
  /** One an entry, in order. */
  readonly results: readonly EntryResult[];
  /** The bytes are on disk; if not, they brought nothing that is kept. */
  readonly kept: boolean;
}
