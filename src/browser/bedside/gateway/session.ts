/** Who is signed in, and the short-lived tokens that the gateway takes from this person's page. */
import type { Identifier } from '../../../vitals/incoming.js';
import type { WaitingReason } from '../door.js';
import { isSamePerson } from '../vault/drafts.js';
import type { KeptValues } from '../vault/kept-values.js';
import type { AskGateway, GatewayReply, GatewayRequest } from './ask-gateway.js';

const SESSION_PATH = '/bedside/session';
const VOUCHER_PATH = '/bedside/vouchers';
const TOKEN_PATH = '/signin/token';
const SIGN_OUT_PATH = '/signin/out';
const KEPT_NAME = 'person';
/** A token is renewed when it has less than this left. */
const TOKEN_SPARE_MS = 30_000;
/** A voucher younger than this is good enough for the sets of the day. */
const VOUCHER_FRESH_MS = 12 * 60 * 60 * 1000;

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

type Token = { readonly token: string } | { readonly why: WaitingReason };

interface SessionBody {
  readonly person: Identifier;
  readonly name: string;
  readonly csrf: string;
}

interface HeldToken {
  readonly token: string;
  readonly endsSteadyMs: number;
}

/** Why a request that got no answer did not get one. */
export function reasonOf(reply: Exclude<GatewayReply, { kind: 'answer' }>): WaitingReason {
  if (reply.kind === 'no-network') return 'no-network';
  return reply.status === 401 || reply.status === 403 ? 'sign-in-needed' : 'gateway-busy';
}

export class Session {
  readonly #ask: AskGateway;
  readonly #kept: KeptValues;
  #person: RememberedPerson | null = null;
  #csrf: string | null = null;
  #held: HeldToken | null = null;
  #asking: Promise<Token> | null = null;

  constructor(ask: AskGateway, kept: KeptValues) {
    this.#ask = ask;
    this.#kept = kept;
  }

  /** Who was found to be signed in when this was asked last. */
  get person(): RememberedPerson | null {
    return this.#person;
  }

  async who(): Promise<WhoAnswer> {
    const reply = await this.#ask({ path: SESSION_PATH, timeoutMs: 5_000 });
    if (reply.kind === 'answer' && reply.status === 200) {
      const before = this.#person ?? (await this.#kept.load<RememberedPerson>(KEPT_NAME));
      const person = await this.#recognise(reply.body as SessionBody, before);
      const justSignedIn = before?.csrf !== person.csrf;
      return { kind: 'person', person, saidBy: 'gateway', justSignedIn };
    }
    if (reply.kind === 'problem' && (reply.status === 401 || reply.status === 403)) {
      this.#forget();
      return { kind: 'nobody' };
    }
    // No network: whoever was signed in here last, until somebody signs out.
    this.#person ??= await this.#kept.load<RememberedPerson>(KEPT_NAME);
    const person = this.#person;
    if (person === null) return { kind: 'nobody' };
    return { kind: 'person', person, saidBy: 'this-device', justSignedIn: false };
  }

  async #recognise(
    { person: identifier, name, csrf }: SessionBody,
    before: RememberedPerson | null,
  ): Promise<RememberedPerson> {
    if (this.#csrf !== csrf) this.#held = null;
    this.#csrf = csrf;
    const same = before !== null && isSamePerson(before.identifier, identifier);
    if (!same) this.#held = null;
    const { voucher, voucherGotMs } = same ? before : { voucher: null, voucherGotMs: 0 };
    this.#person = { identifier, name, voucher, voucherGotMs, csrf };
    await this.#kept.save(KEPT_NAME, this.#person);
    return this.#person;
  }

  #forget(): void {
    this.#person = null;
    this.#csrf = null;
    this.#held = null;
  }

  /** Drops the token, so that the next request asks again whether the session still stands. */
  dropToken(): void {
    this.#held = null;
  }

  /** A token with some time left; many who ask at once share one request. */
  token(): Promise<Token> {
    if (this.#held !== null && this.#held.endsSteadyMs > performance.now()) {
      return Promise.resolve(this.#held);
    }
    this.#asking ??= this.#getToken().finally(() => {
      this.#asking = null;
    });
    return this.#asking;
  }

  async #getToken(): Promise<Token> {
    const csrf = this.#csrf ?? (await this.#askCsrf());
    if (typeof csrf !== 'string') return csrf;
    const askedMs = performance.now();
    const reply = await this.#ask({
      ...{ path: TOKEN_PATH, method: 'POST', timeoutMs: 5_000 },
      headers: { 'X-CSRF-Token': csrf },
    });
    if (reply.kind !== 'answer' || reply.status !== 200) {
      this.#csrf = null;
      return { why: reply.kind === 'answer' ? 'gateway-busy' : reasonOf(reply) };
    }
    const { access_token: token, expires_in: seconds } = reply.body as {
      access_token: string;
      expires_in: number;
    };
    this.#held = { token, endsSteadyMs: askedMs + seconds * 1000 - TOKEN_SPARE_MS };
    return this.#held;
  }

  async #askCsrf(): Promise<string | { readonly why: WaitingReason }> {
    const who = await this.who();
    if (who.kind === 'nobody') return { why: 'sign-in-needed' };
    return who.saidBy === 'gateway' ? who.person.csrf : { why: 'no-network' };
  }

  /** Asks as the person signed in; a token that ended meanwhile is renewed once. */
  async ask(request: GatewayRequest): Promise<GatewayReply> {
    for (let attempt = 1; ; attempt += 1) {
      const got = await this.token();
      if ('why' in got) return withoutToken(got.why);
      const headers = { ...request.headers, Authorization: `Bearer ${got.token}` };
      const reply = await this.#ask({ ...request, headers });
      if (reply.kind !== 'problem' || reply.status !== 401 || attempt > 1) return reply;
      this.dropToken();
    }
  }

  /** Sees to it that sets kept from now on can be handed in by the next person, should it come to that. */
  async renewVoucher(): Promise<void> {
    const person = this.#person;
    if (person === null || Date.now() - person.voucherGotMs < VOUCHER_FRESH_MS) return;
    const reply = await this.ask({ path: VOUCHER_PATH, body: {} });
    if (reply.kind !== 'answer' || reply.status !== 201) return;
    const { voucher } = reply.body as { voucher: string };
    // Somebody else may have signed in meanwhile.
    if (this.#person?.identifier !== person.identifier) return;
    this.#person = { ...person, voucher, voucherGotMs: Date.now() };
    await this.#kept.save(KEPT_NAME, this.#person);
  }

  /** Ends the session here in any case, and at the gateway if it can be reached. */
  async signOut(): Promise<void> {
    if (this.#csrf !== null) {
      await this.#ask({
        ...{ path: SIGN_OUT_PATH, method: 'POST' },
        headers: { 'X-CSRF-Token': this.#csrf },
      });
    }
    this.#forget();
    await this.#kept.forget(KEPT_NAME);
  }
}

function withoutToken(why: WaitingReason): GatewayReply {
  if (why === 'no-network') return { kind: 'no-network' };
  const status = why === 'sign-in-needed' ? 401 : 503;
  const detail = status === 401 ? 'Sign in first.' : 'The gateway is busy.';
  return { kind: 'problem', status, problem: { status, detail }, retryAfterMs: null };
}
