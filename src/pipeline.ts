/** The order of the work: bytes → contract → normalise → (in the group commit: rules → verdict → store) → answer. */
import { editionName, judgedAnswer, storedAnswer } from './vitals/answers.js';
import { checkDecision, checkOwnDecision, checkSet } from './contract/compile.js';
import type { DecisionCheck } from './contract/compile.js';
import { Committer } from './committing.js';
import type { CommitterOptions } from './committing.js';
import { Deliveries } from './deliveries/deliveries.js';
import type {
  DeliveredBytes,
  Deliverer,
  DeliveryOutcome,
  KeptOutcome,
} from './deliveries/deliveries.js';
import { makeEnvelope } from './envelope.js';
import { readJson } from './intake/set-json/read-json.js';
import { normaliseSet } from './normalise/normalise-set.js';
import { factsOf } from './source-facts.js';
import { problemBody } from './problem.js';
import type { Origin } from './store/audit.js';
import { readCheckFacts } from './store/check-facts.js';
import { decideReading } from './store/decide-reading.js';
import type { DecisionOutcome } from './store/decide-reading.js';
import type { KeptContent, SetItem } from './store/draft-sets.js';
import { findSet, listChangedSets } from './store/find-sets.js';
import type { SetOwner, StoredSet } from './store/find-sets.js';
import type { Envelope } from './store/submission-records.js';
import type { DeliveredSet, Fault, Identifier, IncomingSet } from './vitals/shapes.js';

/** Who sends: a client of a registered source, and the person signed in at it, if there is one. */
export interface Sender {
  readonly clientKey: number;
  readonly clientId: string;
  readonly sourceKey: number;
  readonly source: string;
  /** A person stands by each reading of this source. */
  readonly attended: boolean;
  readonly secondIdentifierRequired: boolean;
  /** The clock of this source is kept by a time service. */
  readonly synchronised?: boolean;
  readonly person: Identifier | null;
  /** Which request it was, and from where: for the audit trail. */
  readonly origin?: Origin | undefined;
}

/** What is answered: finished JSON bytes, sent as they are. */
export interface Reply {
  readonly status: number;
  readonly body: Buffer;
  /** The body is an RFC 9457 problem document. */
  readonly problem: boolean;
  /** The same submission was answered before; this is that answer again. */
  readonly repeat: boolean;
}

/** A decision as it arrived, about a reading or about a place in an own set. */
export interface DecisionSubmission {
  readonly sender: Sender;
  readonly bytes: Buffer;
  readonly contentType: string;
}

export interface PipelineOptions extends CommitterOptions {
  /** The time of receipt, in ms since the epoch. */
  readonly clock: () => number;
}

/** One parsed body, or the faults that it is refused for. */
type Parsed =
  | { readonly ok: true; readonly set: IncomingSet }
  | { readonly ok: false; readonly faults: readonly Fault[] };

function parseSet(bytes: Buffer): Parsed {
  const read = readJson(bytes);
  return read.ok ? checkSet(read.value) : read;
}

function refused(faults: readonly Fault[]): KeptContent {
  const count = faults.length === 1 ? 'one fault' : `${faults.length} faults`;
  const detail = `The body was kept, but it cannot be taken: it has ${count}.`;
  const answer = problemBody({ status: 400, detail, errors: faults });
  return { status: 400, answer, action: 'set-refused' };
}

function problem(status: number, detail: string, findings?: readonly unknown[]): Reply {
  const body = problemBody({ status, detail, ...(findings && { findings }) });
  return { status, body, problem: true, repeat: false };
}

function ok(body: unknown): Reply {
  return { status: 200, body: Buffer.from(JSON.stringify(body)), problem: false, repeat: false };
}

/** A person's set is that person's: naming somebody else as its recorder is a fault. */
function recorderFault(person: Identifier | null, set: IncomingSet): Fault | null {
  const named = set.recorder?.identifier;
  if (person === null || named === undefined) return null;
  if (named.system === person.system && named.value === person.value) return null;
  return { pointer: '/recorder', message: 'is not the person whose set this is; leave it out' };
}

const NO_SUCH_READING = 'This source, or the person signed in, has sent no such reading.';

/** Own sets are those of the source, and of a person signed in there only the person's. */
function ownerOf({ sourceKey, person }: Sender): SetOwner {
  return { sourceKey, person };
}

/** Takes sets, checks and decisions; the only place that knows the order of the stages. */
export class Pipeline {
  readonly #options: PipelineOptions;
  readonly #committer: Committer;
  readonly #deliveries: Deliveries;

  constructor(options: PipelineOptions) {
    this.#options = options;
    this.#committer = new Committer(options);
    this.#deliveries = new Deliveries(options, this.#committer);
  }

  /** Keeps, judges and publishes what a device's message brings; resolves when all of it is on disk. */
  receiveDelivery(
    sender: Deliverer,
    arrival: DeliveredBytes,
    sets: readonly DeliveredSet[],
  ): Promise<DeliveryOutcome> {
    return this.#deliveries.receive(sender, arrival, sets);
  }

  /** Keeps what arrived and brings no set, with what was answered. */
  keepDelivery(
    sender: Deliverer,
    arrival: DeliveredBytes,
    content: Omit<KeptContent, 'key'>,
  ): Promise<KeptOutcome> {
    return this.#deliveries.keep(sender, arrival, content);
  }

  /** Keeps what a delivery is refused for; the same bytes may be taken when they come again. */
  keepRefused(
    sender: Deliverer,
    arrival: DeliveredBytes,
    content: Omit<KeptContent, 'key'>,
  ): Promise<void> {
    return this.#deliveries.keepRefused(sender, arrival, content);
  }

  /**
   * Keeps, judges and publishes one set; resolves when it is on disk.
   * @param takenBy the person who took it, where the sender hands it in for somebody else
   */
  async receiveSet(
    sender: Sender,
    bytes: Buffer,
    contentType: string,
    takenBy: Identifier | null = null,
  ): Promise<Reply> {
    const { names, clock } = this.#options;
    const arrival = { sender, bytes, contentType, takenBy };
    const envelope = await makeEnvelope(names, arrival, 'set', clock());
    const person = takenBy ?? sender.person;
    const parsed = parseSet(bytes);
    const fault = parsed.ok ? recorderFault(person, parsed.set) : null;
    if (!parsed.ok || fault !== null) {
      const faults = parsed.ok ? [fault].filter((one) => one !== null) : parsed.faults;
      return this.#commit(sender, envelope, refused(faults));
    }
    const set = normaliseSet(parsed.set);
    return this.#commit(sender, envelope, {
      set: set.recorder === null ? { ...set, recorder: person } : set,
      recorderAsserted: person === null,
    });
  }

  /** Judges one set without keeping it. */
  async checkSet(sender: Sender, bytes: Buffer): Promise<Reply> {
    const { pool, names, stages, clock } = this.#options;
    const parsed = parseSet(bytes);
    if (!parsed.ok) return { ...problem(400, ''), body: refusalOfCheck(parsed.faults) };
    const set = normaliseSet(parsed.set);
    const { edition, ...facts } = await readCheckFacts(pool, names, set, stages, clock());
    const source = factsOf(sender);
    const judged = stages.judge({ set, receivedAtMs: clock(), source, ...facts }, edition);
    const discreet = sender.person === null;
    return ok(judgedAnswer(set, null, judged, { idOf: () => null, discreet }));
  }

  /** An own set as it stands now; null: there is none of that id. */
  async findSet(sender: Sender, setId: string): Promise<Reply | null> {
    const found = await findSet(this.#options.pool, ownerOf(sender), setId);
    return found === null ? null : ok(answerOf(found));
  }

  /** Own sets that changed after a time (ms since the epoch), oldest change first. */
  async listChangedSets(sender: Sender, changedSinceMs: number, limit: number): Promise<Reply> {
    const found = await listChangedSets(this.#options.pool, ownerOf(sender), changedSinceMs, limit);
    const last = found.at(-1);
    return ok({
      sets: found.map((one) => ({ ...answerOf(one), changed: new Date(one.changedMs) })),
      changedUntil: new Date(last?.changedMs ?? changedSinceMs),
      edition: editionName(await this.#editionNow()),
    });
  }

  /** A sender's correction or withdrawal of a reading of its own set. */
  async decideOwn(
    sender: Sender,
    setId: string,
    index: number,
    bytes: Buffer,
    contentType: string,
  ): Promise<Reply> {
    const found = await findSet(this.#options.pool, ownerOf(sender), setId);
    const reading = found?.readings.find((one) => one.index === index);
    if (found === null || reading === undefined) {
      return problem(404, NO_SUCH_READING);
    }
    const submission = { sender, bytes, contentType };
    const outcome = await this.#decide(submission, reading.readingId, checkOwnDecision, true);
    if ('body' in outcome) return outcome;
    if (outcome.kind !== 'done') return refusedDecision(outcome);
    return (await this.findSet(sender, setId)) ?? problem(404, 'The set is gone.');
  }

  /** An analyst's decision about any reading; done: the ids that it touched. */
  async decideReading(
    submission: DecisionSubmission,
    id: string,
  ): Promise<Reply | { readonly readingId: string; readonly newReadingId: string | null }> {
    const outcome = await this.#decide(submission, id, checkDecision, false);
    if ('body' in outcome) return outcome;
    return outcome.kind === 'done' ? outcome : refusedDecision(outcome);
  }

  async #editionNow(): Promise<number> {
    const { pool, stages, clock } = this.#options;
    return (await stages.editions.inForce(pool))(clock()).number;
  }

  /** Resolves when nothing waits or is under way. */
  drain(): Promise<void> {
    return this.#committer.drain();
  }

  async #decide(
    submission: DecisionSubmission,
    id: string,
    check: (value: unknown) => DecisionCheck,
    own: boolean,
  ): Promise<Reply | DecisionOutcome> {
    const { pool, names, stages, clock } = this.#options;
    const { sender, bytes } = submission;
    const envelope = await makeEnvelope(names, submission, 'decision', clock());
    const read = readJson(bytes);
    const checked = read.ok ? check(read.value) : read;
    if (!checked.ok) return this.#commit(sender, envelope, refused(checked.faults));
    if (!('decision' in checked)) throw new Error('a decision was checked and not found');
    return decideReading(pool, names, stages, {
      envelope,
      readingId: id,
      decision: checked.decision,
      ownSourceKey: own ? sender.sourceKey : null,
    });
  }

  async #commit(sender: Sender, envelope: Envelope, content: SetItem['content']): Promise<Reply> {
    const item = { envelope, source: factsOf(sender), content } as SetItem;
    const [outcome] = await this.#committer.commit([item]);
    if (outcome === undefined) throw new Error('a set was committed without an outcome');
    const { status, answer: body, repeat } = outcome;
    return { status, body, problem: status === 400 || status === 409, repeat };
  }
}

function refusalOfCheck(faults: readonly Fault[]): Buffer {
  return problemBody({ status: 400, detail: 'The body cannot be taken.', errors: faults });
}

function answerOf(found: StoredSet): Record<string, unknown> {
  return storedAnswer(found.setId, found.submissionId, found.readings);
}

function refusedDecision(outcome: Exclude<DecisionOutcome, { kind: 'done' }>): Reply {
  return outcome.kind === 'unknown'
    ? problem(404, 'There is no such reading.')
    : problem(
        outcome.status,
        outcome.detail,
        outcome.findings.length === 0 ? undefined : outcome.findings,
      );
}
