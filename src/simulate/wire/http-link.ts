/** Sends messages over HTTP, and sends again what got no answer. */
import { setMaxListeners } from 'node:events';
import { Agent as PlainAgent, request as requestPlain } from 'node:http';
import type { ClientRequest, IncomingHttpHeaders, IncomingMessage } from 'node:http';
import { Agent as TlsAgent, request as requestTls } from 'node:https';
import type { Scope } from '../../serve/auth/scopes.js';
import type { Clients } from './clients.js';
import { ANSWER_TIMEOUT_MS, CUT_PAUSE_MS, nextRetryMs, pause } from './patience.js';

export interface HttpMessage {
  /** Below the base of the gateway, with a slash before it. */
  readonly path: string;
  readonly contentType: string;
  readonly body: string;
  readonly scope: Scope;
}

export interface HttpAnswer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly text: string;
}

/** More connections than this at once help nobody. */
const MAX_CONNECTIONS = 64;
/** Not taken yet: to be sent again later (RFC 9110 §15.6.4, RFC 6585 §4). */
const LATER: ReadonlySet<number> = new Set([429, 503]);

export class HttpLink {
  readonly #base: URL;
  readonly #clients: Clients;
  readonly #onResent: () => void;
  readonly #agent: PlainAgent;
  readonly #closing = new AbortController();

  constructor(baseUrl: string, clients: Clients, onResent: () => void) {
    this.#base = new URL(baseUrl);
    this.#clients = clients;
    this.#onResent = onResent;
    // Each request under way listens to it.
    setMaxListeners(0, this.#closing.signal);
    const settings = { keepAlive: true, maxSockets: MAX_CONNECTIONS };
    this.#agent =
      this.#base.protocol === 'https:' ? new TlsAgent(settings) : new PlainAgent(settings);
  }

  /**
   * Null: the link was closed before an answer came.
   * @param isCut the connection breaks in the middle of the body, and then the whole is sent
   */
  async send(message: HttpMessage, isCut = false): Promise<HttpAnswer | null> {
    if (isCut) await this.#sendHalf(message);
    for (let waitMs = nextRetryMs(0); ; waitMs = nextRetryMs(waitMs)) {
      const answer = await this.#try(message);
      if (answer !== null && !LATER.has(answer.status)) return answer;
      const askedMs = Number(answer?.headers['retry-after'] ?? 0) * 1000;
      await pause(Math.max(waitMs, askedMs || 0), this.#closing.signal);
      if (this.#closing.signal.aborted) return null;
      this.#onResent();
    }
  }

  close(): void {
    this.#closing.abort();
    this.#agent.destroy();
  }

  /** Null: there was no answer. */
  async #try(message: HttpMessage): Promise<HttpAnswer | null> {
    try {
      const request = await this.#begin(message);
      const answer = answerTo(request);
      request.end(message.body);
      return await answer;
    } catch {
      return null;
    }
  }

  async #sendHalf(message: HttpMessage): Promise<void> {
    const request = await this.#begin(message).catch(() => null);
    if (request === null) return;
    request.on('error', () => undefined);
    const whole = Buffer.from(message.body);
    request.write(whole.subarray(0, Math.ceil(whole.length / 2)));
    await pause(CUT_PAUSE_MS, this.#closing.signal);
    request.destroy();
  }

  async #begin({ path, contentType, body, scope }: HttpMessage): Promise<ClientRequest> {
    const authorization = await this.#clients.authorizationFor(scope);
    const { protocol, pathname } = this.#base;
    const url = new URL(`${pathname.replace(/\/$/, '')}${path}`, this.#base);
    return (protocol === 'https:' ? requestTls : requestPlain)(url, {
      method: 'POST',
      agent: this.#agent,
      timeout: ANSWER_TIMEOUT_MS,
      signal: this.#closing.signal,
      headers: {
        authorization,
        'content-type': contentType,
        'content-length': Buffer.byteLength(body),
      },
    });
  }
}

function answerTo(request: ClientRequest): Promise<HttpAnswer> {
  return new Promise((resolve, reject) => {
    request.on('error', reject);
    request.on('timeout', () => request.destroy(new Error('no answer in time')));
    request.on('response', (response: IncomingMessage) => {
      const chunks: Buffer[] = [];
      response.on('data', (chunk: Buffer) => chunks.push(chunk));
      response.on('error', reject);
      response.on('end', () => {
        const { statusCode: status = 0, headers } = response;
        resolve({ status, headers, text: Buffer.concat(chunks).toString('utf8') });
      });
    });
  });
}
