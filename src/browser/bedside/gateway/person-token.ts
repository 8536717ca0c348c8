/** The short-lived token that the gateway takes from this person's page. */
import type { WaitingReason } from '../door.js';
import { reasonOf } from './ask-gateway.js';
import type { AskGateway } from './ask-gateway.js';

const TOKEN_PATH = '/signin/token';
const TIMEOUT_MS = 5_000;
/** It is renewed when it has less than this left. */
const SPARE_MS = 30_000;

export type Token = { readonly token: string } | { readonly why: WaitingReason };
/** What ties requests to the session; why there is none just now. */
export type Csrf = { readonly csrf: string } | { readonly why: WaitingReason };

interface HeldToken {
  readonly token: string;
  readonly endsSteadyMs: number;
}

export class PersonToken {
  readonly #ask: AskGateway;
  readonly #csrf: () => Promise<Csrf>;
  #held: HeldToken | null = null;
  #asking: Promise<Token> | null = null;

  constructor(ask: AskGateway, csrf: () => Promise<Csrf>) {
    this.#ask = ask;
    this.#csrf = csrf;
  }

  /** The next request asks again whether the session still stands. */
  drop(): void {
    this.#held = null;
  }

  /** One with some time left; many who ask at once share one request. */
  get(): Promise<Token> {
    if (this.#held !== null && this.#held.endsSteadyMs > performance.now()) {
      return Promise.resolve(this.#held);
    }
    this.#asking ??= this.#request().finally(() => {
      this.#asking = null;
    });
    return this.#asking;
  }

  async #request(): Promise<Token> {
    const got = await this.#csrf();
    if ('why' in got) return got;
    const askedMs = performance.now();
    const reply = await this.#ask({
      ...{ path: TOKEN_PATH, method: 'POST', timeoutMs: TIMEOUT_MS },
      headers: { 'X-CSRF-Token': got.csrf },
    });
    if (reply.kind !== 'answer') return { why: reasonOf(reply) };
    if (reply.status !== 200) return { why: 'gateway-busy' };
    const { access_token: token, expires_in: seconds } = reply.body as {
      access_token: string;
      expires_in: number;
    };
    this.#held = { token, endsSteadyMs: askedMs + seconds * 1000 - SPARE_MS };
    return this.#held;
  }
}
