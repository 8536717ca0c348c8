/** What the listener is told, and what it tells: events never hold a byte of a message. */
import { MAX_FRAME_BYTES } from './framer.js';
import type { DiscardedFrame, DiscardReason } from './framer.js';
import type { Peer } from './peer.js';

export interface HandlerReply {
  /** Unframed; each goes out as a frame of its own, in this order. None: the sender gets no answer. */
  readonly acknowledgements: readonly Buffer[];
  /** Close the connection once they are written. Frames that have come after this one are not handled. */
  readonly close?: boolean;
}

/** Paths of PEM files. */
export interface TlsFiles {
  readonly certFile: string;
  readonly keyFile: string;
  /** Who is trusted: authorities, and certificates of clients that are trusted by themselves. */
  readonly caFile: string;
}

export interface ListenerLimits {
  readonly maxFrameBytes: number;
  /** From a start block to the end of a frame; the time in which we do not read is not counted. */
  readonly frameTimeoutMs: number;
  /** Nothing comes and nothing is being handled; or acknowledgements lie there unread. */
  readonly idleTimeoutMs: number;
  /** For a TLS client to show its certificate. */
  readonly handshakeTimeoutMs: number;
  /** By certificate; without TLS by address, loopback excepted. */
  readonly maxConnectionsPerPeer: number;
  /** Of all peers, those in the handshake included. */
  readonly maxConnections: number;
  /** What a sender has, once we end a connection, to take the last answers and end its side too. */
  readonly closeTimeoutMs: number;
  /** What frames in hand have to be finished once the listener stops. */
  readonly stopTimeoutMs: number;
}

export const DEFAULT_LIMITS: ListenerLimits = {
  maxFrameBytes: MAX_FRAME_BYTES,
  frameTimeoutMs: 30_000,
  idleTimeoutMs: 300_000,
  handshakeTimeoutMs: 10_000,
  maxConnectionsPerPeer: 8,
  maxConnections: 2_000,
  closeTimeoutMs: 5_000,
  stopTimeoutMs: 10_000,
};

/**
 * Why a connection ended. By the sender: it ended its side, or the connection broke. By us: the time-outs; a
 * frame above the limit; the handler failed, or asked for it; the gateway stops.
 */
export type CloseReason =
  | 'ended-by-peer'
  | 'connection-lost'
  | 'idle'
  | 'frame-timed-out'
  | 'acknowledgements-unread'
  | 'frame-too-long'
  | 'handler-failed'
  | 'closed-by-handler'
  | 'stopped';

/**
 * Why a connection was not taken. The handshake fails for TLS that is too old, for something that is not TLS,
 * for time; a certificate, because there is none or it is not trusted.
 */
export type RefusalReason = 'peer-limit' | 'total-limit' | 'handshake' | 'certificate';

/**
 * For metrics and log. A hostile sender makes as many as it sends broken frames: count each, but log with
 * measure.
 */
export type ListenerEvent =
  | { readonly kind: 'opened'; readonly peer: Peer }
  | {
      readonly kind: 'closed';
      readonly peer: Peer;
      readonly reason: CloseReason;
      /** Of the system, such as ECONNRESET, if the socket failed. */
      readonly errorCode: string | null;
    }
  | {
      readonly kind: 'refused';
      readonly reason: RefusalReason;
      readonly address: string | null;
      readonly certificateFingerprint: string | null;
      /** Of OpenSSL or Node, such as CERT_HAS_EXPIRED; or NO_CERTIFICATE. Null where a limit is the reason. */
      readonly errorCode: string | null;
    }
  | { readonly kind: 'frame'; readonly peer: Peer; readonly bytes: number }
  | {
      readonly kind: 'discarded';
      readonly peer: Peer;
      readonly reason: DiscardReason;
      readonly bytes: number;
    }
  | { readonly kind: 'junk'; readonly peer: Peer; readonly bytes: number }
  /** `handle` or `keepDiscarded` rejected: the connection is closed without an acknowledgement. */
  | { readonly kind: 'failed'; readonly peer: Peer; readonly error: unknown }
  /** The system could not accept a connection, for instance for want of file descriptors. */
  | { readonly kind: 'accept-failed'; readonly errorCode: string };

export interface ListenerOptions {
  readonly host: string;
  /** 0: any free port. */
  readonly port: number;
  /** Without it plain MLLP: for loopback only. */
  readonly tls?: TlsFiles | undefined;
  /**
   * Called with one frame at a time and in order for each connection, at the same time for several. What it
   * answers is written, so it must answer only once the message is safe. If it rejects, the connection is
   * closed without an acknowledgement, and the sender sends again. It bounds its own time.
   */
  readonly handle: (frame: Buffer, peer: Peer) => Promise<HandlerReply>;
  /**
   * Keeps what came of a frame that was thrown away; its sender is not told. Called in turn with `handle`,
   * never at the same time for one connection; if it rejects, the same happens.
   */
  readonly keepDiscarded?: ((frame: DiscardedFrame, peer: Peer) => Promise<void>) | undefined;
  /** Must not throw. */
  readonly onEvent?: ((event: ListenerEvent) => void) | undefined;
  readonly limits?: Partial<ListenerLimits> | undefined;
}

/** The listener cannot start; the message is one sentence for the person at the console. */
export class ListenerStartError extends Error {
  override readonly name = 'ListenerStartError';
}
