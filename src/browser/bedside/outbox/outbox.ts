/**
 * Sets on their way: kept first, then sent in their order, by one tab at a time. The gateway knows a set
 * by its id, so that one whose answer was lost is sent again without harm; it leaves this device when
 * the gateway has answered that it is on disk, or when its person takes it out.
 */
import type { Problem, SendOutcome, SetJson, WaitingReason, WaitingSet } from '../door.js';
import type { RememberedPerson, Session } from '../gateway/session.js';
import { storageFaultOf } from '../vault/device-database.js';
import { isSamePerson } from '../vault/drafts.js';
import { retryWaitMs } from './retry-wait.js';
import { sendKept } from './send-kept.js';
import type { Sent } from './send-kept.js';
import type { KeptSet, WaitingSets } from './waiting-sets.js';

const LOCK = 'bedside-outbox';
const CHANNEL = 'bedside-outbox';

export interface OutboxEvents {
  readonly onCount: (count: number) => void;
  readonly onDelivered: (setId: string, outcome: SendOutcome) => void;
}

/** What a round found out: of single sets, and why it ended before all were sent. */
interface Round {
  readonly sent: ReadonlyMap<string, Sent>;
  readonly stopped: { readonly why: WaitingReason; readonly retryAfterMs: number | null } | null;
}

export class Outbox {
  readonly #waiting: WaitingSets;
  readonly #session: Session;
  readonly #events: OutboxEvents;
  readonly #others = new BroadcastChannel(CHANNEL);
  /** Answers of this page's own sets: a second tap gets them again. */
  readonly #answered = new Map<string, SendOutcome>();
  #failures = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(waiting: WaitingSets, session: Session, events: OutboxEvents) {
    this.#waiting = waiting;
    this.#session = session;
    this.#events = events;
    this.#others.onmessage = () => void this.tellCount();
  }

  /** Begins to send what waits from before, now and whenever the network may be back. */
  start(): void {
    addEventListener('online', () => void this.sendNow());
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') void this.sendNow();
    });
    void this.tellCount();
    void this.sendNow();
  }

  async send(set: SetJson, keptAt: string): Promise<SendOutcome> {
    const known = this.#answered.get(set.setId);
    if (known !== undefined) return known;
    const person = await this.#session.personToKeepFor();
    if (person === null) return { state: 'not-kept', why: 'sign-in-needed' };
    const wanted = toKept(set, person, keptAt);
    let kept: KeptSet;
    try {
      kept = await this.#waiting.keep(wanted);
    } catch (error) {
      return this.#sendUnkept(wanted, error);
    }
    await this.tellCount();
    const outcome = await this.#deliver(kept);
    if (outcome.state === 'answered') this.#answered.set(set.setId, outcome);
    return outcome;
  }

  /** Somebody signed out: the next one is not told what became of that one's sets. */
  forgetAnswers(): void {
    this.#answered.clear();
  }

  async sendNow(): Promise<void> {
    await this.#round();
  }

  async mine(person: RememberedPerson): Promise<readonly WaitingSet[]> {
    const all = await this.#waiting.all();
    return all
      .filter((kept) => isSamePerson(kept.person, person.identifier))
      .map(({ setId, body, keptAt, refusal }) => ({
        ...{ setId, keptAt, refusal },
        set: JSON.parse(body) as SetJson,
      }));
  }

  /** Nothing is taken out while it is being sent: it might arrive after all. */
  async takeOut(setId: string, person: RememberedPerson): Promise<SetJson | null> {
    return whileAlone(async () => {
      const kept = await this.#waiting.find(setId);
      if (kept === null || !isSamePerson(kept.person, person.identifier)) return null;
      await this.#waiting.remove(setId);
      await this.tellCount();
      this.#others.postMessage('changed');
      return JSON.parse(kept.body) as SetJson;
    });
  }

  /** Gives the person's waiting sets the newest voucher: some may have been kept without one. */
  async renewVouchers({ identifier, voucher }: RememberedPerson): Promise<void> {
    if (voucher === null) return;
    await whileAlone(async () => {
      for (const kept of await this.#waiting.all()) {
        const own = isSamePerson(kept.person, identifier);
        if (own && kept.voucher !== voucher) await this.#waiting.change({ ...kept, voucher });
      }
    });
  }

  async tellCount(): Promise<void> {
    this.#events.onCount(await this.#waiting.count());
  }

  /** The device keeps nothing: the set goes straight to the gateway, or stays in the form. */
  async #sendUnkept(wanted: KeptSet, error: unknown): Promise<SendOutcome> {
    const sent = await sendKept(this.#session, wanted);
    if (sent.kind === 'answered' || sent.kind === 'refused') return toOutcome(sent);
    return { state: 'not-kept', why: storageFaultOf(error) };
  }

  async #deliver(kept: KeptSet): Promise<SendOutcome> {
    if (kept.refusal !== null) return refused(kept.refusal);
    const { sent, stopped } = await this.#round();
    const own = sent.get(kept.setId);
    if (own !== undefined) return toOutcome(own);
    if (stopped !== null) return { state: 'waiting', why: stopped.why };
    // Another tab was quicker: asked again, the gateway answers the same.
    return toOutcome(await sendKept(this.#session, kept));
  }

  /** Sends all that waits, in order, while no other tab does. */
  async #round(): Promise<Round> {
    clearTimeout(this.#timer);
    const round = await whileAlone(() => this.#sendAll());
    await this.tellCount();
    this.#others.postMessage('changed');
    this.#planNext(round);
    return round;
  }

  async #sendAll(): Promise<Round> {
    const sent = new Map<string, Sent>();
    for (const setId of await this.#idsOrNone()) {
      const kept = await this.#waiting.find(setId);
      if (kept?.refusal !== null) continue;
      const one = await sendKept(this.#session, kept);
      sent.set(setId, one);
      if (one.kind === 'stopped') return { sent, stopped: one };
      await this.#settle(kept, one);
    }
    return { sent, stopped: null };
  }

  async #idsOrNone(): Promise<readonly string[]> {
    try {
      return await this.#waiting.ids();
    } catch {
      return [];
    }
  }

  async #settle(kept: KeptSet, sent: Sent): Promise<void> {
    if (sent.kind === 'answered') await this.#waiting.remove(kept.setId);
    if (sent.kind === 'refused') await this.#waiting.change({ ...kept, refusal: sent.problem });
    const person = this.#session.person;
    if (person === null || !isSamePerson(person.identifier, kept.person)) return;
    if (sent.kind === 'answered' || sent.kind === 'refused') {
      this.#events.onDelivered(kept.setId, toOutcome(sent));
    }
  }

  /** Somebody has to sign in before anything more can go: that is not waited for by the clock. */
  #planNext({ sent, stopped }: Round): void {
    const passedOver = [...sent.values()].some(
      (one) => one.kind === 'passed-over' && one.why !== 'sign-in-needed',
    );
    const again = passedOver || (stopped !== null && stopped.why !== 'sign-in-needed');
    this.#failures = again ? this.#failures + 1 : 0;
    clearTimeout(this.#timer);
    if (!again) return;
    const waitMs = retryWaitMs(this.#failures, stopped?.retryAfterMs ?? null, Math.random());
    this.#timer = setTimeout(() => void this.sendNow(), waitMs);
  }
}

/** While no other tab does the same. Pages that came by plain http from another machine have no locks, and keep nothing. */
function whileAlone<T>(work: () => Promise<T>): Promise<T> {
  return 'locks' in navigator ? navigator.locks.request(LOCK, work) : work();
}

function toKept(set: SetJson, person: RememberedPerson, keptAt: string): KeptSet {
  return {
    ...{ setId: set.setId, body: JSON.stringify(set), keptAt, refusal: null },
    ...{ person: person.identifier, voucher: person.voucher },
  };
}

function refused(problem: Problem): SendOutcome {
  return { state: 'refused', status: problem.status, problem };
}

function toOutcome(sent: Sent): SendOutcome {
  switch (sent.kind) {
    case 'answered':
      return { state: 'answered', status: sent.status, answer: sent.answer };
    case 'refused':
      return refused(sent.problem);
    case 'passed-over':
    case 'stopped':
      return { state: 'waiting', why: sent.why };
  }
}
