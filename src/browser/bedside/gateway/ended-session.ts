/** Ends sessions at the gateway: one that ended here without a network is ended there as soon as that is back. */
import type { KeptValues } from '../vault/kept-values.js';
import type { AskGateway } from './ask-gateway.js';

const SIGN_OUT_PATH = '/signin/out';
const KEPT_NAME = 'ended session';

export class EndedSession {
  readonly #ask: AskGateway;
  readonly #kept: KeptValues;
  /** Tells the session from others; for a device that keeps nothing. */
  #csrf: string | null = null;

  constructor(ask: AskGateway, kept: KeptValues) {
    this.#ask = ask;
    this.#kept = kept;
  }

  async end(csrf: string): Promise<void> {
    this.#csrf = csrf;
    await this.#kept.save(KEPT_NAME, csrf);
    await this.#tell(csrf);
  }

  /** Whether the gateway's session is one that was ended here; it is told now, then. */
  async has(csrf: string): Promise<boolean> {
    const ended = this.#csrf ?? (await this.#kept.load<string>(KEPT_NAME));
    if (ended !== csrf) return false;
    await this.#tell(csrf);
    return true;
  }

  async #tell(csrf: string): Promise<void> {
    const reply = await this.#ask({
      ...{ path: SIGN_OUT_PATH, body: new URLSearchParams({ csrf }).toString() },
      headers: { 'Content-Type': 'application/x-www-form-urlencoded' },
    });
    // It leads to the page after signing out, or says that nobody is signed in.
    if (reply.kind !== 'problem' || reply.status >= 429) return;
    this.#csrf = null;
    await this.#kept.forget(KEPT_NAME);
  }
}
