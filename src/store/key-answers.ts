/** A set whose key is taken already: the same content again, or other content. */
import type { NormalisedSet } from '../vitals/shapes.js';
import { unpackBytes } from './compress.js';
import type { KeyHolder } from './submission-records.js';
import type { Envelope } from './submission-records.js';

/** What the pipeline contributes. */
export interface KeyAnswers {
  /** Do two bodies say the same, once parsed? */
  readonly sameContent: (one: Buffer, other: Buffer) => boolean;
  /** The 409 body for other content under a taken key. */
  readonly conflict: (setId: string) => Buffer;
}

export interface KeyAnswer {
  readonly status: number;
  readonly answer: Buffer;
  readonly repeat: boolean;
  readonly sameBytes: boolean;
}

/** The first answer again, or 409. */
export function answerFromKey(
  item: {
    readonly envelope: Pick<Envelope, 'sha256' | 'body'>;
    readonly content: { readonly set: NormalisedSet };
  },
  holder: KeyHolder,
  answers: KeyAnswers,
): KeyAnswer {
  const sameBytes = holder.sha256.equals(item.envelope.sha256);
  if (sameBytes || answers.sameContent(unpackBytes(holder.body), item.envelope.body)) {
    return { status: holder.status, answer: unpackBytes(holder.answer), repeat: true, sameBytes };
  }
  const answer = answers.conflict(item.content.set.setId);
  return { status: 409, answer, repeat: false, sameBytes };
}
