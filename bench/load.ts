/**
 * The load: its own process, so that it costs the gateway nothing but the machine's cores. Bare sockets
 * with one request at a time each. With a rate, latencies count from the time a request was due, so
 * that a stall is not hidden by the requests that it delayed.
 */
import { randomUUID } from 'node:crypto';
import { connect } from 'node:net';
import type { Socket } from 'node:net';
import { exampleBody } from './example-body.js';

export interface LoadOptions {
  readonly port: number;
  readonly token: string;
  readonly patients: number;
  readonly connections: number;
  readonly seconds: number;
  /** Requests a second; null: as many as are answered. */
  readonly rate: number | null;
}

export interface LoadResult {
  readonly answered: number;
  readonly refused: number;
  readonly perSecond: number;
  readonly p50Ms: number;
  readonly p99Ms: number;
}

function requestBytes({ token, patients }: LoadOptions): string {
  const body = exampleBody(randomUUID(), Math.floor(Math.random() * patients), new Date());
  return (
    `POST /sets HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer ${token}\r\n` +
    `Content-Type: application/json\r\nContent-Length: ${Buffer.byteLength(body)}\r\n\r\n${body}`
  );
}

/** Sends one request on the socket and resolves with the status of its answer. */
function exchange(socket: Socket, request: string): Promise<number> {
  return new Promise((resolve, reject) => {
    let received = '';
    const take = (chunk: Buffer): void => {
      received += chunk.toString('latin1');
      const head = received.indexOf('\r\n\r\n');
      if (head < 0) return;
      const length = Number(/content-length: (\d+)/i.exec(received)?.[1] ?? Number.NaN);
      if (received.length < head + 4 + length) return;
      socket.off('data', take).off('close', fail);
      resolve(Number(received.slice(9, 12)));
    };
    const fail = (): void => {
      reject(new Error('the connection was closed'));
    };
    socket.on('data', take).once('close', fail);
    socket.write(request);
  });
}

async function run(options: LoadOptions): Promise<LoadResult> {
  const latenciesMs: number[] = [];
  let refused = 0;
  const startMs = performance.now();
  const endMs = startMs + options.seconds * 1000;
  let due = 0;
  const next = async (): Promise<number> => {
    const now = performance.now();
    if (options.rate === null) return now;
    const atMs = startMs + (due++ * 1000) / options.rate;
    if (atMs > now) await new Promise((resolve) => setTimeout(resolve, atMs - now));
    return atMs;
  };
  const worker = async (): Promise<void> => {
    const socket = connect(options.port, '127.0.0.1').setNoDelay(true);
    for (;;) {
      const dueMs = await next();
      if (dueMs >= endMs) break;
      const status = await exchange(socket, requestBytes(options));
      if (status === 201) latenciesMs.push(performance.now() - dueMs);
      else refused += 1;
    }
    socket.destroy();
  };
  await Promise.all(Array.from({ length: options.connections }, worker));
  const seconds = (performance.now() - startMs) / 1000;
  latenciesMs.sort((a, b) => a - b);
  const centile = (share: number): number =>
    latenciesMs[Math.min(latenciesMs.length - 1, Math.floor(latenciesMs.length * share))] ?? 0;
  const answered = latenciesMs.length;
  return {
    answered,
    refused,
    perSecond: answered / seconds,
    p50Ms: centile(0.5),
    p99Ms: centile(0.99),
  };
}

const options = JSON.parse(process.argv[2] ?? '{}') as LoadOptions;
process.stdout.write(JSON.stringify(await run(options)));
