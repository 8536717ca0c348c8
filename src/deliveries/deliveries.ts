/** Sets that devices deliver: several may come in one message, and some lack patient or time. */
import { createHash } from 'node:crypto';
import type { Committer } from '../committing.js';
import { correctTimes } from './correct-times.js';
import { makeEnvelope, partEnvelope } from '../envelope.js';
import { normaliseDelivery } from '../normalise/normalise-set.js';
import { factsOf } from '../source-facts.js';
import { settleIdentity } from './settle-identity.js';
import type { SettledSet } from './settle-identity.js';
import type { KeptContent, SetItem } from '../store/draft-sets.js';
import { findDelivery } from '../store/find-delivery.js';
import type { MessageHeader } from '../store/message-records.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { Envelope } from '../store/submission-records.js';
import type { DeliveredSet, Identifier, SourceFacts } from '../vitals/shapes.js';

/** Who delivers: a peer of a registered source, or a client of one. */
export interface Deliverer extends SourceFacts {
  /** Null: a peer without a token. */
  readonly clientKey: number | null;
  readonly sourceKey: number;
  readonly source: string;
  readonly person: Identifier | null;
}

/** What arrived. */
export interface DeliveredBytes {
  readonly bytes: Buffer;
  readonly contentType: string;
  /** For an HL7 v2 message. */
  readonly message?: MessageHeader;
}

/** What became of one part of a delivery: all readings of one patient by one person. */
export interface PartOutcome {
  readonly submissionId: string;
  readonly status: number;
  /** The answer that a sender of a set would get, as JSON bytes. */
  readonly answer: Buffer;
  /** The same bytes came before; this is what was answered then. */
  readonly repeat: boolean;
}

/** What became of a delivery. */
export interface DeliveryOutcome {
  /** Under which the whole of it is kept. */
  readonly envelope: Envelope;
  /** It had come before. */
  readonly repeat: boolean;
  readonly parts: readonly PartOutcome[];
}

/** What was kept without a set. */
export interface KeptOutcome {
  readonly envelope: Envelope;
  /** It had come before. */
  readonly repeat: boolean;
}

export interface DeliveryOptions {
  readonly pool: Pool;
  readonly names: Names;
  readonly clock: () => number;
}

/** Takes deliveries: settles whose they are, and commits all their parts together. */
export class Deliveries {
  readonly #options: DeliveryOptions;
  readonly #committer: Committer;

  constructor(options: DeliveryOptions, committer: Committer) {
    this.#options = options;
    this.#committer = committer;
  }

  /** Resolves when all of it is on disk. The very same bytes of the same source are taken once. */
  async receive(
    sender: Deliverer,
    arrival: DeliveredBytes,
    sets: readonly DeliveredSet[],
  ): Promise<DeliveryOutcome> {
    const { pool } = this.#options;
    const envelope = await this.#envelope(sender, arrival, 'set');
    const before = await findDelivery(pool, sender.sourceKey, partKey(envelope.sha256, 0, 0));
    const [first] = before;
    if (first !== undefined) {
      const { submissionId } = first;
      const parts = before.map((part) => ({ ...part, repeat: true }));
      return { envelope: { ...envelope, submissionId }, repeat: true, parts };
    }
    const timed = await correctTimes(pool, sets, envelope.receivedAtMs);
    const settled = await Promise.all(
      timed.map((set) => settleIdentity(pool, sender.source, set, envelope.receivedAtMs)),
    );
    const placed = settled.flatMap((parts, set) =>
      parts.map((part, split) => ({ part, set, split })),
    );
    const parts = await this.#committer.commit(
      placed.map(({ part, set, split }, place) => {
        const own = place === 0 ? envelope : partEnvelope(envelope);
        return itemOf(sender, own, part, partKey(envelope.sha256, set, split), arrival.message);
      }),
    );
    return { envelope, repeat: parts.every(({ repeat }) => repeat), parts };
  }

  /** Keeps what brings no set, with what was answered; the very same bytes of the same source once. */
  async keep(
    sender: Deliverer,
    arrival: DeliveredBytes,
    content: Omit<KeptContent, 'key'>,
  ): Promise<KeptOutcome> {
    const envelope = await this.#envelope(sender, arrival, 'message');
    const key = partKey(envelope.sha256, 0, 0);
    const [before] = await findDelivery(this.#options.pool, sender.sourceKey, key);
    if (before !== undefined) {
      return { envelope: { ...envelope, submissionId: before.submissionId }, repeat: true };
    }
    const { message } = arrival;
    const item = { envelope, source: factsOf(sender), content: { ...content, key } };
    await this.#committer.commit([{ ...item, ...(message && { message }) }]);
    return { envelope, repeat: false };
  }

  /** Keeps what is refused, each time that it comes: sent again, it may be taken. */
  async keepRefused(
    sender: Deliverer,
    { bytes, contentType }: DeliveredBytes,
    content: Omit<KeptContent, 'key'>,
  ): Promise<void> {
    const envelope = await this.#envelope(sender, { bytes, contentType }, 'message');
    await this.#committer.commit([{ envelope, source: factsOf(sender), content }]);
  }

  #envelope(
    sender: Deliverer,
    { bytes, contentType }: DeliveredBytes,
    kind: Envelope['kind'],
  ): Promise<Envelope> {
    const { names, clock } = this.#options;
    return makeEnvelope(names, { sender, bytes, contentType }, kind, clock());
  }
}

function itemOf(
  sender: Deliverer,
  envelope: Envelope,
  { set, patient, claim }: SettledSet,
  setId: string,
  message: MessageHeader | undefined,
): SetItem {
  const receivedAt = { epochMs: envelope.receivedAtMs, offsetMinutes: 0 };
  return {
    envelope,
    source: factsOf(sender),
    content: {
      set: normaliseDelivery(withReview(set, sender), { setId, patient, claim, receivedAt }),
      recorderAsserted: sender.person === null,
      unread: set.unread,
    },
    ...(message && { message }),
  };
}

/** Where the message does not say whether somebody stands by a value, the registration of its source does. */
function withReview(set: DeliveredSet, { attended }: Deliverer): DeliveredSet {
  const readings = set.readings.map((reading) => {
    const { report } = reading;
    if (report === undefined || report.reviewed !== undefined) return reading;
    return { ...reading, report: { ...report, reviewed: attended } };
  });
  return { ...set, readings };
}

/** The key of one part: a UUID version 8 (RFC 9562 §5.8) of what arrived and the part's place in it. */
function partKey(sha256: Buffer, set: number, split: number): string {
  const hash = createHash('sha256').update(sha256).update(`${set}.${split}`).digest();
  hash.writeUInt8((hash.readUInt8(6) & 0x0f) | 0x80, 6);
  hash.writeUInt8((hash.readUInt8(8) & 0x3f) | 0x80, 8);
  const hex = hash.toString('hex', 0, 16);
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, '$1-$2-$3-$4-$5');
}
