/** One sender of HL7 v2: a connection that is held open, and one message at a time upon it. */
import { once } from 'node:events';
import { connect as connectPlain } from 'node:net';
import type { Socket } from 'node:net';
import { connect as connectTls } from 'node:tls';
import type { SecureContextOptions } from 'node:tls';
import { Framer, wrapFrame } from '../../intake/hl7v2/framer.js';
import { ANSWER_TIMEOUT_MS, CUT_PAUSE_MS, nextRetryMs, pause } from './patience.js';
import { readAcknowledgement } from './read-acknowledgement.js';
import type { Acknowledgement } from './read-acknowledgement.js';

export interface MllpEndpoint {
  readonly host: string;
  readonly port: number;
  /** Absent: without TLS. */
  readonly tls?: SecureContextOptions;
}

export interface MllpMessage {
  readonly bytes: Buffer;
  readonly controlId: string;
}

/** How a frame is cut: another begins on the same connection, or the connection breaks. */
export type Cut = 'goes-on' | 'breaks';

export interface LinkEvents {
  /** A message is sent again, because its connection ended or no answer came in time. */
  readonly resent: () => void;
  /** A connection was lost that nobody had broken on purpose. */
  readonly disconnected: () => void;
  /** Something came that no message waits for. */
  readonly stray: (words: string) => void;
}

interface Waiting {
  readonly controlId: string;
  readonly settle: (answer: Acknowledgement | null) => void;
}

/**
 * A sender as IHE ITI TF-2 C.2 has it: what is not acknowledged when the connection ends is sent again,
 * the very same bytes; what is acknowledged, whether well or ill, is not.
 */
export class MllpLink {
  readonly #endpoint: MllpEndpoint;
  readonly #events: LinkEvents;
  readonly #closing = new AbortController();
  #socket: Socket | null = null;
  #reopening: Promise<void> | null = null;
  #waiting: Waiting | null = null;
  #isBreaking = false;

  constructor(endpoint: MllpEndpoint, events: LinkEvents) {
    this.#endpoint = endpoint;
    this.#events = events;
  }

  /** The first connection. Rejects if there is none to be had. */
  async open(): Promise<void> {
    await this.#connect();
  }

  /** Null: the link was closed before an answer came. */
  async send(message: MllpMessage, cut?: Cut): Promise<Acknowledgement | null> {
    if (cut !== undefined) await this.#sendHalf(message, cut);
    for (let attempt = 0; ; attempt++) {
      await this.#reopening;
      if (this.#socket === null) return null;
      if (attempt > 0) this.#events.resent();
      const answer = await this.#exchange(this.#socket, message);
      if (answer !== null || this.#closing.signal.aborted) return answer;
    }
  }

  close(): void {
    this.#closing.abort();
    this.#socket?.destroySoon();
  }

  async #sendHalf({ bytes }: MllpMessage, cut: Cut): Promise<void> {
    await this.#reopening;
    const socket = this.#socket;
    const whole = wrapFrame(bytes);
    socket?.write(whole.subarray(0, Math.ceil(whole.length / 2)));
    await pause(CUT_PAUSE_MS, this.#closing.signal);
    if (cut === 'goes-on' || socket === null || socket.closed) return;
    this.#isBreaking = true;
    socket.destroy();
    await once(socket, 'close');
  }

  #exchange(socket: Socket, { bytes, controlId }: MllpMessage): Promise<Acknowledgement | null> {
    return new Promise((resolve) => {
      const timer = setTimeout(() => socket.destroy(), ANSWER_TIMEOUT_MS);
      const settle = (answer: Acknowledgement | null): void => {
        clearTimeout(timer);
        this.#waiting = null;
        resolve(answer);
      };
      this.#waiting = { controlId, settle };
      socket.write(wrapFrame(bytes));
    });
  }

  #connect(): Promise<void> {
    const { host, port, tls } = this.#endpoint;
    return new Promise((resolve, reject) => {
      const socket =
        tls === undefined
          ? connectPlain({ host, port, noDelay: true })
          : connectTls({ host, port, ...tls }).setNoDelay(true);
      socket.once('error', reject);
      socket.once(tls === undefined ? 'connect' : 'secureConnect', () => {
        socket.off('error', reject);
        this.#serve(socket);
        resolve();
      });
    });
  }

  #serve(socket: Socket): void {
    const framer = new Framer();
    this.#socket = socket;
    socket.on('data', (chunk) => {
      for (const framed of framer.feed(chunk)) {
        if (framed.kind === 'frame') this.#take(framed.bytes);
        else this.#events.stray(`a frame that is not whole (${framed.reason})`);
      }
    });
    socket.on('error', () => undefined);
    socket.on('close', () => {
      this.#lose();
    });
    if (this.#closing.signal.aborted) socket.destroy();
  }

  #take(frame: Buffer): void {
    const answer = readAcknowledgement(frame);
    if (answer !== null && answer.controlId === this.#waiting?.controlId) {
      this.#waiting.settle(answer);
    } else {
      this.#events.stray(
        answer === null
          ? 'a message that acknowledges nothing'
          : `${answer.code} for another message`,
      );
    }
  }

  #lose(): void {
    this.#socket = null;
    if (!this.#closing.signal.aborted) {
      if (!this.#isBreaking) this.#events.disconnected();
      this.#isBreaking = false;
      this.#reopening ??= this.#reopen().finally(() => {
        this.#reopening = null;
      });
    }
    this.#waiting?.settle(null);
  }

  async #reopen(): Promise<void> {
    for (let waitMs = 0; !this.#closing.signal.aborted;) {
      await pause(waitMs, this.#closing.signal);
      try {
        await this.#connect();
        return;
      } catch {
        waitMs = nextRetryMs(waitMs);
      }
    }
  }
}
