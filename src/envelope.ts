/** What arrived, before anything is known about it: bytes, hash, sender, time of receipt. */
import { createHash } from 'node:crypto';
import type { Origin } from './store/audit.js';
import type { Names } from './store/names.js';
import { readingId } from './store/reading-rows.js';
import type { Envelope } from './store/submission-records.js';
import { uuid7 } from './store/uuid7.js';
import type { Identifier } from './vitals/shapes.js';

/** A body as it came over HTTP. */
export interface Arrival {
  readonly sender: {
    readonly clientKey: number | null;
    readonly sourceKey: number;
    readonly person: Identifier | null;
    readonly origin?: Origin | undefined;
  };
  readonly bytes: Buffer;
  readonly contentType: string;
  /** Whose it is, where another person hands it in for its taker. */
  readonly takenBy?: Identifier | null;
}

/** Puts an arrival under an id of its own; the person signed in is learnt. */
export async function makeEnvelope(
  names: Names,
  { sender, bytes: body, contentType, takenBy = null }: Arrival,
  kind: Envelope['kind'],
  receivedAtMs: number,
): Promise<Envelope> {
  const people = [sender.person, takenBy].filter((person) => person !== null);
  if (people.length > 0) await names.learnPeople(people);
  return {
    submissionId: submissionId(receivedAtMs),
    sourceKey: sender.sourceKey,
    clientKey: sender.clientKey,
    personKey: names.person(sender.person),
    takenByKey: names.person(takenBy),
    receivedAtMs,
    kind,
    contentType,
    body,
    sha256: createHash('sha256').update(body).digest(),
    origin: sender.origin,
  };
}

/** A further part of the same arrival: it has an id of its own, and its bytes are the whole's. */
export function partEnvelope(whole: Envelope): Envelope {
  return {
    ...whole,
    submissionId: submissionId(whole.receivedAtMs),
    body: Buffer.alloc(0),
    partOf: whole.submissionId,
  };
}

/** A UUID version 7 (RFC 9562) whose last 16 bits are zero: they number the readings. */
function submissionId(receivedAtMs: number): string {
  return readingId(uuid7(receivedAtMs), -1);
}
