import { readFileSync } from 'node:fs';
import { createServer as createHttpServer } from 'node:http';
import type { IncomingMessage, RequestListener, Server } from 'node:http';
import { createServer as createHttpsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { StartError } from '../../errors.js';

/** A request must have arrived whole by then; a streamed body too. */
const REQUEST_TIMEOUT_MS = 300_000;
const HEADERS_TIMEOUT_MS = 15_000;
/** Nothing at all on a connection for this long, in either direction: it is given up. */
const IDLE_TIMEOUT_MS = 60_000;
/** Longer than the usual 60 s of a load balancer, which must be the one that closes. */
const KEEP_ALIVE_TIMEOUT_MS = 65_000;
const MAX_HEADER_BYTES = 16 * 1024;
/** How long requests in flight may still take once the gateway stops. */
const DRAIN_MS = 10_000;
const SWEEP_INTERVAL_MS = 50;

export interface ListenSettings {
  readonly host: string;
  /** 0: any free port. */
  readonly port: number;
  /** Paths of PEM files. */
  readonly tls: { readonly certFile: string; readonly keyFile: string } | undefined;
}

export interface HttpServer {
  readonly port: number;
  /** Takes no more requests, waits for those in flight (10 s at most), then closes. */
  readonly stop: () => Promise<void>;
}

function readPem(file: string, variable: string): Buffer {
  try {
    return readFileSync(file);
  } catch {
    throw new StartError(`${variable} names ${file}, which cannot be read.`);
  }
}

function createServer({ tls }: ListenSettings): Server {
  const options = {
    requestTimeout: REQUEST_TIMEOUT_MS,
    headersTimeout: HEADERS_TIMEOUT_MS,
    keepAliveTimeout: KEEP_ALIVE_TIMEOUT_MS,
    maxHeaderSize: MAX_HEADER_BYTES,
  };
  if (tls === undefined) return createHttpServer(options);
  const cert = readPem(tls.certFile, 'HTTP_TLS_CERT');
  const key = readPem(tls.keyFile, 'HTTP_TLS_KEY');
  try {
    return createHttpsServer({ ...options, cert, key, minVersion: 'TLSv1.2' });
  } catch {
    throw new StartError(
      'HTTP_TLS_CERT and HTTP_TLS_KEY are not a certificate and its key in PEM.',
    );
  }
}

function sentenceFor(error: NodeJS.ErrnoException, { host, port }: ListenSettings): string {
  const where = `${host}:${port}`;
  switch (error.code) {
    case 'EADDRINUSE':
      return `HTTP cannot start: ${where} is in use by another program. Set PORT to a free one.`;
    case 'EACCES':
      return `HTTP cannot start: this user may not listen on ${where}. Set PORT to 1024 or above.`;
    case 'EADDRNOTAVAIL':
    case 'ENOTFOUND':
    case 'EAI_AGAIN':
      return `HTTP cannot start: this machine has no address ${host}. Set HOST to one that it has.`;
    case undefined:
    default:
      return `HTTP cannot start on ${where} (${error.code ?? error.message}).`;
  }
}

async function stopServer(server: Server): Promise<void> {
  await new Promise<void>((resolve) => {
    const force = setTimeout(() => {
      server.closeAllConnections();
    }, DRAIN_MS);
    // A connection whose last answer has gone out would otherwise be kept alive for a minute more.
    const sweep = setInterval(() => {
      server.closeIdleConnections();
    }, SWEEP_INTERVAL_MS);
    server.close(() => {
      clearTimeout(force);
      clearInterval(sweep);
      resolve();
    });
  });
}

/** An absolute address as the target (RFC 9112 §3.2.2) of which nothing can be made. */
function hasUnreadableTarget({ url = '' }: IncomingMessage): boolean {
  return !url.startsWith('/') && url !== '*' && !URL.canParse(url);
}

/** Refuses as Node refuses what it cannot parse; Express would leave its steps out and answer in HTML. */
function refuseUnreadable(app: RequestListener): RequestListener {
  return (req, res) => {
    if (hasUnreadableTarget(req)) res.writeHead(400, { Connection: 'close' }).end();
    else app(req, res);
  };
}

/**
 * Starts HTTP, or HTTPS with TLS 1.2 and up when a certificate is given. The application is made when
 * the port is known, because its links and tokens may name it.
 * Throws a {@link StartError} when the port is taken or the certificate is none.
 */
export async function startHttpServer(
  createApp: (port: number) => RequestListener,
  settings: ListenSettings,
): Promise<HttpServer> {
  const server = createServer(settings);
  server.timeout = IDLE_TIMEOUT_MS;
  await new Promise<void>((resolve, reject) => {
    server.once('error', (error) => {
      reject(new StartError(sentenceFor(error, settings)));
    });
    server.listen(settings.port, settings.host, resolve);
  });
  const { port } = server.address() as AddressInfo;
  server.on('request', refuseUnreadable(createApp(port)));
  return { port, stop: () => stopServer(server) };
}
