import type { Socket } from 'node:net';
import { Framer, wrapFrame } from './framer.js';
import type { DiscardedFrame, WholeFrame } from './framer.js';
import type {
  CloseReason,
  ListenerEvent,
  ListenerLimits,
  ListenerOptions,
} from './listener-options.js';
import type { Peer } from './peer.js';

export type ConnectionOptions = Pick<ListenerOptions, 'handle' | 'keepDiscarded'> & {
  readonly limits: ListenerLimits;
  readonly report: (event: ListenerEvent) => void;
};

/**
 * One connection from its first byte to its end. It reads only when everything that came before is handled
 * and acknowledged, so that a fast sender is slowed down by TCP and never by our memory: a connection holds
 * one frame and what the socket had read ahead.
 */
export class ListenerConnection {
  readonly #socket: Socket;
  readonly #peer: Peer;
  readonly #options: ConnectionOptions;
  readonly #framer: Framer;
  #wake: () => void = () => undefined;
  #isStopping = false;
  #errorCode: string | null = null;
  #frameDeadlineMs: number | undefined;
  #reportedJunkBytes = 0;

  /** The socket must stay open for writing when the sender ends its side (`allowHalfOpen`). */
  constructor(socket: Socket, peer: Peer, options: ConnectionOptions) {
    this.#socket = socket;
    this.#peer = peer;
    this.#options = options;
    this.#framer = new Framer(options.limits.maxFrameBytes);
    socket.on('error', (error: NodeJS.ErrnoException) => {
      this.#errorCode = error.code ?? error.name;
    });
    for (const event of ['readable', 'end', 'drain', 'close']) {
      socket.on(event, () => {
        this.#wake();
      });
    }
  }

  /** Resolves when the connection is over. */
  async serve(): Promise<void> {
    const { report } = this.#options;
    report({ kind: 'opened', peer: this.#peer });
    const reason = await this.#converse();
    this.#reportJunk();
    const unfinished = this.#framer.end();
    if (unfinished !== undefined) await this.#discard(unfinished);
    await this.#close();
    report({ kind: 'closed', peer: this.#peer, reason, errorCode: this.#errorCode });
  }

  /** The frame in hand is finished and acknowledged; nothing else is begun. */
  stop(): void {
    this.#isStopping = true;
    this.#wake();
  }

  async #converse(): Promise<CloseReason> {
    for (;;) {
      if (this.#isStopping) return 'stopped';
      const chunk = this.#socket.read() as Buffer | null;
      const reason = chunk === null ? await this.#waitForMore() : await this.#takeChunk(chunk);
      if (reason !== undefined) return reason;
    }
  }

  /** What has come whole is handled even if its sender is gone by now: it may never send again. */
  async #takeChunk(chunk: Buffer): Promise<CloseReason | undefined> {
    for (const framed of this.#framer.feed(chunk)) {
      const reason =
        framed.kind === 'frame' ? await this.#handle(framed) : await this.#discard(framed);
      if (reason !== undefined) return reason;
      if (this.#isStopping) return 'stopped';
    }
    this.#reportJunk();
    return undefined;
  }

  async #handle({ bytes }: WholeFrame): Promise<CloseReason | undefined> {
    const { handle, report } = this.#options;
    this.#frameDeadlineMs = undefined;
    report({ kind: 'frame', peer: this.#peer, bytes: bytes.length });
    try {
      const reply = await handle(bytes, this.#peer);
      const unread = await this.#write(Buffer.concat(reply.acknowledgements.map(wrapFrame)));
      return unread ?? (reply.close === true ? 'closed-by-handler' : undefined);
    } catch (error) {
      report({ kind: 'failed', peer: this.#peer, error });
      return 'handler-failed';
    }
  }

  /** A frame that is too long costs its sender the connection: it would send the same again and again. */
  async #discard(frame: DiscardedFrame): Promise<CloseReason | undefined> {
    const { keepDiscarded, report } = this.#options;
    const { reason, bytes } = frame;
    report({ kind: 'discarded', peer: this.#peer, reason, bytes: bytes.length });
    try {
      if (bytes.length > 0) await keepDiscarded?.(frame, this.#peer);
      return reason === 'too-long' ? 'frame-too-long' : undefined;
    } catch (error) {
      report({ kind: 'failed', peer: this.#peer, error });
      return 'handler-failed';
    }
  }

  #reportJunk(): void {
    const bytes = this.#framer.junkBytes - this.#reportedJunkBytes;
    this.#reportedJunkBytes += bytes;
    if (bytes > 0) this.#options.report({ kind: 'junk', peer: this.#peer, bytes });
  }

  /** Waits as long as the sender does not take what was written before. */
  async #write(bytes: Buffer): Promise<CloseReason | undefined> {
    if (bytes.length === 0 || this.#socket.destroyed) return undefined;
    this.#socket.write(bytes);
    const deadlineMs = performance.now() + this.#options.limits.idleTimeoutMs;
    while (this.#socket.writableNeedDrain) {
      if (!(await this.#wakesBefore(deadlineMs))) return 'acknowledgements-unread';
    }
    return undefined;
  }

  async #waitForMore(): Promise<CloseReason | undefined> {
    if (this.#socket.destroyed) return 'connection-lost';
    if (this.#socket.readableEnded) return 'ended-by-peer';
    const { frameTimeoutMs, idleTimeoutMs } = this.#options.limits;
    const nowMs = performance.now();
    if (!this.#framer.isMidFrame) {
      this.#frameDeadlineMs = undefined;
      return (await this.#wakesBefore(nowMs + idleTimeoutMs)) ? undefined : 'idle';
    }
    this.#frameDeadlineMs ??= nowMs + frameTimeoutMs;
    return (await this.#wakesBefore(this.#frameDeadlineMs)) ? undefined : 'frame-timed-out';
  }

  /** Sleeps until something happens on the socket; false if the time is up first. */
  async #wakesBefore(deadlineMs: number): Promise<boolean> {
    return new Promise((resolve) => {
      const wakeWith = (isAwake: boolean) => (): void => {
        clearTimeout(timer);
        this.#wake = () => undefined;
        resolve(isAwake);
      };
      const timer = setTimeout(wakeWith(false), deadlineMs - performance.now());
      this.#wake = wakeWith(true);
    });
  }

  /**
   * Ends our side and throws away what still comes, for a while: to close over unread bytes makes the system
   * reset the connection, and acknowledgements on their way would be lost (RFC 1122 §4.2.2.13).
   */
  async #close(): Promise<void> {
    const deadlineMs = performance.now() + this.#options.limits.closeTimeoutMs;
    this.#socket.end();
    while (!this.#socket.destroyed && performance.now() < deadlineMs) {
      if (this.#socket.read() === null) await this.#wakesBefore(deadlineMs);
    }
    this.#socket.destroy();
  }
}
