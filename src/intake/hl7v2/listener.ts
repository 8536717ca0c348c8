/** HL7 v2 over MLLP, plain or within TLS: connections in, frames to a handler, its answers back. */
import type { Server, Socket } from 'node:net';
import type { TLSSocket } from 'node:tls';
import { ListenerConnection } from './listener-connection.js';
import { DEFAULT_LIMITS } from './listener-options.js';
import type {
  ListenerEvent,
  ListenerLimits,
  ListenerOptions,
  RefusalReason,
} from './listener-options.js';
import { createMllpServer, listenOn } from './listener-server.js';
import { PeerLimit, plainAddress, readFingerprint, readPeer } from './peer.js';
import type { Peer } from './peer.js';
import { readTlsFiles } from './tls-files.js';
import type { ListenerTls } from './tls-files.js';
import { findDistrust } from './tls-trust.js';

export interface Hl7Listener {
  readonly port: number;
  /** Takes no more connections, finishes the frames in hand (for a bounded time), then closes. */
  readonly stop: () => Promise<void>;
}

/**
 * Starts the listener.
 * Throws a {@link ListenerStartError} when the port is taken or a file of TLS is not what it should be.
 */
export async function startHl7Listener(options: ListenerOptions): Promise<Hl7Listener> {
  const limits = { ...DEFAULT_LIMITS, ...options.limits };
  const tls = options.tls && readTlsFiles(options.tls);
  const server = createMllpServer(tls?.serverOptions, limits);
  const port = await listenOn(server, options.host, options.port);
  const listener = new Listener(server, { ...options, limits, trusted: tls?.trusted });
  return { port, stop: () => listener.stop() };
}

interface Settings extends ListenerOptions {
  readonly limits: ListenerLimits;
  /** Undefined without TLS. */
  readonly trusted: ListenerTls['trusted'] | undefined;
}

class Listener {
  readonly #server: Server;
  readonly #settings: Settings;
  readonly #peerLimit: PeerLimit;
  /** As the system accepted them; with TLS also those that are still in the handshake. */
  readonly #sockets = new Set<Socket>();
  readonly #connections = new Map<ListenerConnection, Promise<void>>();
  #connectionCount = 0;
  #isStopping = false;

  constructor(server: Server, settings: Settings) {
    this.#server = server;
    this.#settings = settings;
    this.#peerLimit = new PeerLimit(settings.limits.maxConnectionsPerPeer);
    server.on('connection', (socket: Socket) => {
      this.#sockets.add(socket);
      socket.on('close', () => this.#sockets.delete(socket));
    });
    const { trusted } = settings;
    if (trusted === undefined) {
      server.on('connection', (socket: Socket) => {
        this.#admit(socket);
      });
    } else {
      server.on('secureConnection', (socket: TLSSocket) => {
        this.#admitTrusted(socket, trusted);
      });
    }
    this.#watchFailures();
  }

  async stop(): Promise<void> {
    this.#isStopping = true;
    const closed = new Promise((resolve) => this.#server.close(resolve));
    for (const connection of this.#connections.keys()) connection.stop();
    let timer: NodeJS.Timeout | undefined;
    const timeIsUp = new Promise((resolve) => {
      timer = setTimeout(resolve, this.#settings.limits.stopTimeoutMs);
    });
    await Promise.race([Promise.all(this.#connections.values()), timeIsUp]);
    clearTimeout(timer);
    for (const socket of this.#sockets) socket.destroy();
    await closed;
  }

  #watchFailures(): void {
    this.#server.on('drop', (dropped) => {
      this.#reportRefused('total-limit', dropped?.remoteAddress, null, null);
    });
    this.#server.on('tlsClientError', (error: Error, socket: TLSSocket) => {
      this.#refuse(socket, 'handshake', codeOf(error));
    });
    this.#server.on('error', (error) => {
      this.#report({ kind: 'accept-failed', errorCode: codeOf(error) });
    });
  }

  #admitTrusted(socket: TLSSocket, trusted: ListenerTls['trusted']): void {
    const distrust = findDistrust(socket, trusted);
    if (distrust === undefined) this.#admit(socket);
    else this.#refuse(socket, 'certificate', distrust);
  }

  #admit(socket: Socket): void {
    const peer = readPeer(socket, this.#connectionCount + 1);
    if (peer === undefined || this.#isStopping) {
      destroyQuietly(socket);
    } else if (this.#peerLimit.admit(peer)) {
      this.#connectionCount += 1;
      this.#serve(socket, peer);
    } else {
      this.#refuse(socket, 'peer-limit', null);
    }
  }

  #serve(socket: Socket, peer: Peer): void {
    const connection = new ListenerConnection(socket, peer, {
      ...this.#settings,
      report: (event) => {
        this.#report(event);
      },
    });
    const served = connection.serve().finally(() => {
      this.#connections.delete(connection);
      this.#peerLimit.leave(peer);
    });
    this.#connections.set(connection, served);
  }

  #refuse(socket: Socket, reason: RefusalReason, errorCode: string | null): void {
    this.#reportRefused(reason, socket.remoteAddress, readFingerprint(socket), errorCode);
    destroyQuietly(socket);
  }

  #reportRefused(
    reason: RefusalReason,
    address: string | undefined,
    certificateFingerprint: string | null,
    errorCode: string | null,
  ): void {
    const plain = address === undefined ? null : plainAddress(address);
    this.#report({ kind: 'refused', reason, address: plain, certificateFingerprint, errorCode });
  }

  #report(event: ListenerEvent): void {
    this.#settings.onEvent?.(event);
  }
}

/**
 * Node leaves a connection open whose handshake was not in time; and an error of a socket that nobody listens
 * to would end the process.
 */
function destroyQuietly(socket: Socket): void {
  socket.on('error', () => undefined);
  socket.destroy();
}

function codeOf(error: NodeJS.ErrnoException): string {
  return error.code ?? error.name;
}
