/** Who is at the page, and asking the gateway as this person. */
import type { Identifier } from '../../../vitals/incoming.js';
import type { WaitingReason } from '../door.js';
import { isSamePerson } from '../vault/drafts.js';
import type { KeptValues } from '../vault/kept-values.js';
import type { AskGateway, GatewayReply, GatewayRequest } from './ask-gateway.js';
import { EndedSession } from './ended-session.js';
import { PersonToken } from './person-token.js';
import type { Csrf } from './person-token.js';

const SESSION_PATH = '/bedside/session';
const VOUCHER_PATH = '/bedside/vouchers';
const KEPT_NAME = 'person';
const SESSION_TIMEOUT_MS = 5_000;
/** A voucher younger than this is good enough for the sets of the day. */
const VOUCHER_FRESH_MS = 12 * 60 * 60 * 1000;
const VOUCHER_WAIT_MS = 2_000;

/** The person as this device remembers it: for the time without a network, and for waiting sets. */
export interface RememberedPerson {
  readonly identifier: Identifier;
  readonly name: string;
  /** By which another person may hand in this one's sets; null: none was got. */
  readonly voucher: string | null;
  readonly voucherGotMs: number;
  /** Tells one session from the next. */
  readonly csrf: string;
}

export type WhoAnswer =
  | {
      readonly kind: 'person';
      readonly person: RememberedPerson;
      readonly saidBy: 'gateway' | 'this-device';
      /** The gateway's session is another one than this device knew: somebody has just signed in. */
      readonly justSignedIn: boolean;
    }
  | { readonly kind: 'nobody' };

interface SessionBody {
  readonly person: Identifier;
  readonly name: string;
  readonly csrf: string;
}

export class Session {
  readonly #ask: AskGateway;
  readonly #kept: KeptValues;
  readonly #ended: EndedSession;
  readonly #token: PersonToken;
  #person: RememberedPerson | null = null;
  #renewing: Promise<void> | null = null;

  constructor(ask: AskGateway, kept: KeptValues) {
    this.#ask = ask;
    this.#kept = kept;
    this.#ended = new EndedSession(ask, kept);
    this.#token = new PersonToken(ask, () => this.#csrf());
  }

  /** Who was found to be at the page when that was asked last. Nothing but that changes it. */
  get person(): RememberedPerson | null {
    return this.#person;
  }

  async who(): Promise<WhoAnswer> {
    const told = await this.#askSession();
    if (told === 'nobody') {
      this.#forget();
      return { kind: 'nobody' };
    }
    if (told === 'no-network') return this.#lastOneHere();
    const before = this.#person ?? (await this.#kept.load<RememberedPerson>(KEPT_NAME));
    const person = await this.#recognise(told, before);
    const justSignedIn = before?.csrf !== person.csrf;
    return { kind: 'person', person, saidBy: 'gateway', justSignedIn };
  }

  async #askSession(): Promise<SessionBody | 'nobody' | 'no-network'> {
    const reply = await this.#ask({ path: SESSION_PATH, timeoutMs: SESSION_TIMEOUT_MS });
    if (reply.kind === 'answer' && reply.status === 200) {
      const body = reply.body as SessionBody;
      return (await this.#ended.has(body.csrf)) ? 'nobody' : body;
    }
    const isRefused = reply.kind === 'problem' && (reply.status === 401 || reply.status === 403);
    return isRefused ? 'nobody' : 'no-network';
  }

  /** Whoever was signed in here last, until somebody signs out. */
  async #lastOneHere(): Promise<WhoAnswer> {
    this.#person ??= await this.#kept.load<RememberedPerson>(KEPT_NAME);
    const person = this.#person;
    if (person === null) return { kind: 'nobody' };
    return { kind: 'person', person, saidBy: 'this-device', justSignedIn: false };
  }

  async #recognise(
    { person: identifier, name, csrf }: SessionBody,
    before: RememberedPerson | null,
  ): Promise<RememberedPerson> {
    if (before?.csrf !== csrf) this.#token.drop();
    const same = before !== null && isSamePerson(before.identifier, identifier);
    const { voucher, voucherGotMs } = same ? before : { voucher: null, voucherGotMs: 0 };
    this.#person = { identifier, name, voucher, voucherGotMs, csrf };
    await this.#kept.save(KEPT_NAME, this.#person);
    return this.#person;
  }

  #forget(): void {
    this.#person = null;
    this.#token.drop();
  }

  /**
   * What ties a request for a token to the session. Another tab may have signed somebody else in: what is
   * entered here stays this person's, and is not sent by that one's token unawares.
   */
  async #csrf(): Promise<Csrf> {
    const told = await this.#askSession();
    if (told === 'no-network') return { why: 'no-network' };
    const person = this.#person;
    if (told === 'nobody' || person === null) return { why: 'sign-in-needed' };
    return isSamePerson(told.person, person.identifier)
      ? { csrf: told.csrf }
      : { why: 'sign-in-needed' };
  }

  /** Asks as the person at the page; a token that ended meanwhile is renewed once. */
  async ask(request: GatewayRequest): Promise<GatewayReply> {
    for (let attempt = 1; ; attempt += 1) {
      const got = await this.#token.get();
      if ('why' in got) return withoutToken(got.why);
      const headers = { ...request.headers, Authorization: `Bearer ${got.token}` };
      const reply = await this.#ask({ ...request, headers });
      if (reply.kind !== 'problem' || reply.status !== 401 || attempt > 1) return reply;
      this.#token.drop();
    }
  }

  /** The person with a voucher, for a set that is about to be kept; one that is under way is waited for a little. */
  async personToKeepFor(): Promise<RememberedPerson | null> {
    if (this.#person !== null && this.#person.voucher === null) {
      await Promise.race([this.renewVoucher(), passed(VOUCHER_WAIT_MS)]);
    }
    return this.#person;
  }

  /** Sees to it that sets of this person can be handed in by the next one, should it come to that. */
  renewVoucher(): Promise<void> {
    this.#renewing ??= this.#getVoucher().finally(() => {
      this.#renewing = null;
    });
    return this.#renewing;
  }

  async #getVoucher(): Promise<void> {
    const person = this.#person;
    if (person === null || Date.now() - person.voucherGotMs < VOUCHER_FRESH_MS) return;
    const reply = await this.ask({ path: VOUCHER_PATH, method: 'POST' });
    if (reply.kind !== 'answer' || reply.status !== 201) return;
    const { voucher } = reply.body as { voucher: string };
    // Somebody else may have signed in meanwhile.
    if (this.#person?.csrf !== person.csrf) return;
    this.#person = { ...person, voucher, voucherGotMs: Date.now() };
    await this.#kept.save(KEPT_NAME, this.#person);
  }

  /** Ends the session here in any case, and at the gateway as soon as it can be reached. */
  async signOut(): Promise<void> {
    const csrf = this.#person?.csrf;
    this.#forget();
    await this.#kept.forget(KEPT_NAME);
    if (csrf !== undefined) await this.#ended.end(csrf);
  }
}

function passed(ms: number): Promise<void> {
  return new Promise((resolve) => {
    setTimeout(resolve, ms);
  });
}

function withoutToken(why: WaitingReason): GatewayReply {
  if (why === 'no-network') return { kind: 'no-network' };
  const status = why === 'sign-in-needed' ? 401 : 503;
  const detail = status === 401 ? 'Sign in first.' : 'The gateway is busy.';
  return { kind: 'problem', status, problem: { status, detail }, retryAfterMs: null };
}
