import { createServer as createHttpServer } from 'node:http';
import type { RequestListener } from 'node:http';
import { createServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { OUTSIDE_CERTIFICATE, OUTSIDE_KEY } from './test-authority.js';

/** A server that the gateway is made to ask, on a real socket of this machine. */
export interface OutsideServer {
  readonly port: number;
  /** `https://127.0.0.1:port`, or http. */
  readonly url: string;
  /** Connections so far, whether a request came over them or not. */
  readonly connections: () => number;
  readonly stop: () => Promise<void>;
}

export async function startOutsideServer(
  listener: RequestListener,
  scheme: 'https' | 'http' = 'https',
): Promise<OutsideServer> {
  const server =
    scheme === 'https'
      ? createServer({ cert: OUTSIDE_CERTIFICATE, key: OUTSIDE_KEY }, listener)
      : createHttpServer(listener);
  let connections = 0;
  server.on('connection', () => (connections += 1));
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  return {
    port,
    url: `${scheme}://127.0.0.1:${port}`,
    connections: () => connections,
    async stop() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
