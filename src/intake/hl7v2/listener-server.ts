import { createServer as createPlainServer } from 'node:net';
import type { AddressInfo, Server } from 'node:net';
import { createServer as createTlsServer } from 'node:tls';
import type { TlsOptions } from 'node:tls';
import { ListenerStartError } from './listener-options.js';
import type { ListenerLimits } from './listener-options.js';

/** A device that lost its power is found out by probes, long before it has been idle for too long. */
const KEEP_ALIVE_MS = 30_000;

/** The server that accepts connections, plain or within TLS; it does not listen yet. */
export function createMllpServer(tls: TlsOptions | undefined, limits: ListenerLimits): Server {
  const shared = {
    // A sender that ends its side after its last message still gets the acknowledgement.
    allowHalfOpen: true,
    noDelay: true,
    keepAlive: true,
    keepAliveInitialDelay: KEEP_ALIVE_MS,
  };
  const { handshakeTimeoutMs: handshakeTimeout } = limits;
  const server =
    tls === undefined
      ? createPlainServer(shared)
      : createTlsServer({ ...shared, ...tls, handshakeTimeout });
  server.maxConnections = limits.maxConnections;
  return server;
}

/**
 * Resolves with the port once the server listens.
 * Throws a {@link ListenerStartError} if it cannot.
 */
export async function listenOn(server: Server, host: string, port: number): Promise<number> {
  // A whole ward may connect at once when its power comes back.
  const backlog = server.maxConnections;
  await new Promise<void>((resolve, reject) => {
    const refuse = (error: NodeJS.ErrnoException): void => {
      reject(new ListenerStartError(sentenceFor(error, host, port)));
    };
    server.once('error', refuse);
    server.listen({ host, port, backlog }, () => {
      server.off('error', refuse);
      resolve();
    });
  });
  return (server.address() as AddressInfo).port;
}

function sentenceFor(error: NodeJS.ErrnoException, host: string, port: number): string {
  const where = `${host}:${port}`;
  switch (error.code) {
    case 'EADDRINUSE':
      return `MLLP cannot start: ${where} is in use by another program. Set MLLP_PORT to a free one.`;
    case 'EACCES':
      return `MLLP cannot start: this user may not listen on ${where}. Set MLLP_PORT to 1024 or above.`;
    case 'EADDRNOTAVAIL':
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return `MLLP cannot start: this machine has no address ${host}. Set HOST to one that it has.`;
    case undefined:
    default:
      return `MLLP cannot start on ${where} (${error.code ?? error.message}).`;
  }
}
