import { setTimeout as sleep } from 'node:timers/promises';
import { claimServer } from './claim.js';
import type { Claim } from './claim.js';
import { DATABASE_USER, openCluster } from './cluster.js';
import { LOOPBACK, findPostmaster } from './postmaster.js';
import { endServer } from './processes.js';

/** A PostgreSQL server of the gateway's own, for trial and tests. */
export interface EmbeddedServer {
  /** Stays the same while the server is used, also when it had to be started again. */
  readonly databaseUrl: string;
  /** Ends all sessions and the server. Call it when the gateway has finished with the database. */
  readonly stop: () => Promise<void>;
}

const MAX_DELAY_MS = 5_000;

/**
 * Starts the embedded server on its data in `dataDir`, or adopts the one that a killed gateway left
 * running there. Should the server go away later, it is started again on the same port, with
 * growing delays; meanwhile connections are refused and nothing else happens.
 *
 * @param report receives one sentence when the server went away and when it is back.
 * @throws StartError with one plain sentence when it cannot be used.
 */
export async function startEmbeddedServer(
  dataDir: string,
  report: (sentence: string) => void = () => undefined,
): Promise<EmbeddedServer> {
  const cluster = await openCluster(dataDir);
  const stopping = new AbortController();
  const { signal } = stopping;
  const isStopping = () => signal.aborted;
  const first = await claimServer(cluster, undefined, signal);
  let held: Claim | undefined = first;
  let recovery = Promise.resolve();
  const watching = watch();

  async function watch(): Promise<void> {
    while (held !== undefined) {
      await held.lost;
      held = undefined;
      if (isStopping()) return;
      recovery = recover();
      await recovery;
    }
  }

  async function recover(): Promise<void> {
    report('The embedded PostgreSQL went away; starting it again.');
    for (let delayMs = 100; !isStopping(); delayMs = Math.min(delayMs * 2, MAX_DELAY_MS)) {
      try {
        await sleep(delayMs, undefined, { signal });
        held = await claimServer(cluster, first.port, signal);
        report('The embedded PostgreSQL is back.');
        return;
      } catch (error) {
        if (!isStopping()) report(error instanceof Error ? error.message : String(error));
      }
    }
  }

  async function stop(): Promise<void> {
    stopping.abort();
    await recovery;
    // Without the claim the server is another gateway's to stop.
    const running = held && findPostmaster(cluster.folder);
    if (running !== undefined) await endServer(running.pid);
    await watching;
  }

  const address = `${LOOPBACK}:${first.port}`;
  return {
    databaseUrl: `postgres://${DATABASE_USER}:${cluster.password}@${address}/postgres`,
    stop,
  };
}
