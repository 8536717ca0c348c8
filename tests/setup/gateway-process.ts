import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { askAt } from './gateway.js';
import type { Ask, Told } from './gateway.js';

/** What all processes of a test call themselves, wherever they listen. */
export const PUBLIC_URL = 'http://127.0.0.1:8080';

/** A gateway process that is started again whenever it is killed. */
export class GatewayProcess {
  port = 0;
  #child: ChildProcess | undefined;
  readonly #databaseUrl: string;
  readonly #env: Readonly<Record<string, string>>;

  /** @param env configuration variables beside those that every process here has */
  constructor(databaseUrl: string, env: Readonly<Record<string, string>> = {}) {
    this.#databaseUrl = databaseUrl;
    this.#env = env;
  }

  async start(): Promise<void> {
    this.port = await freePort();
    const child = spawn(process.execPath, [join(process.cwd(), 'dist/main.js')], {
      env: {
        ...process.env,
        DATABASE_URL: this.#databaseUrl,
        PORT: String(this.port),
        PUBLIC_URL,
        MLLP_PORT: 'off',
        LOG_LEVEL: 'silent',
        ...this.#env,
      },
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    this.#child = child;
    await new Promise((resolve, reject) => {
      child.stdout.once('data', resolve);
      child.once('exit', () => {
        reject(new Error('the gateway did not start'));
      });
    });
  }

  async kill(signal: 'SIGKILL' | 'SIGTERM' = 'SIGKILL'): Promise<void> {
    const child = this.#child;
    if (child?.exitCode !== null) return;
    const gone = new Promise((resolve) => child.once('exit', resolve));
    child.kill(signal);
    await gone;
  }
}

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/** Asks any process until one answers; what was sent is sent again, as a sender does. */
export async function insistOn<T>(
  processes: readonly GatewayProcess[],
  path: string,
  ask: Ask,
): Promise<Told<T>> {
  for (let n = Math.floor(Math.random() * 2); ; n += 1) {
    const one = processes[n % processes.length];
    const answer = await askAt<T>(`http://127.0.0.1:${one?.port ?? 0}${path}`, ask).catch(
      () => null,
    );
    if (answer !== null && answer.status < 500) return answer;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}
