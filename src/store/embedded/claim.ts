import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';
import { StartError } from '../../errors.js';
import { DATABASE_USER } from './cluster.js';
import type { Cluster } from './cluster.js';
import { LOOPBACK, findFreePort, findPostmaster, launch } from './postmaster.js';
import type { Launch } from './postmaster.js';

/** The right to use a cluster, and the duty to stop its server: a session that holds its lock. */
export interface Claim {
  readonly port: number;
  /** Settles when the session has ended; with it the claim is lost. */
  readonly lost: Promise<void>;
}

/** Advisory lock that stands for “a gateway uses this cluster”; the number has no meaning. */
const CLAIM_LOCK = 7_512_001;
const POLL_MS = 20;
/** The session of a killed gateway may outlive it by a moment. */
const HANDOVER_MS = 1_500;
/** Long enough for the recovery after a crash. */
const READY_MS = 60_000;
/** Reasons for a server to end at once that pass by themselves. */
const PASSING = /could not bind|already exists|still in use/;

/**
 * Brings the cluster's server up, or finds it up, and claims it.
 *
 * Whoever holds the lock owns the server, no matter who started it. So one rule covers the first
 * start, a server whose gateway was killed (it is adopted), two starts at one moment (the lock has
 * one winner), and a server that is just starting or stopping (it is waited for).
 *
 * @param port to start the server on; undefined: any free one. A running server keeps its own.
 * @throws StartError when another gateway has the claim, or the server does not come up;
 *   whatever `signal` is aborted with.
 */
export async function claimServer(
  cluster: Cluster,
  port: number | undefined,
  signal: AbortSignal,
): Promise<Claim> {
  const deadline = Date.now() + READY_MS;
  let started: Launch | undefined;
  let refusedSince: number | undefined;
  try {
    while (Date.now() < deadline) {
      const running = findPostmaster(cluster.folder);
      if (running?.ready) {
        const answer = await tryClaim(cluster, running.port);
        if (answer.state === 'claimed') return answer.claim;
        if (answer.state === 'taken') {
          refusedSince ??= Date.now();
          if (Date.now() - refusedSince > HANDOVER_MS) throw inUse(cluster, answer.holder);
        }
      } else if (running === undefined && started?.isRunning() !== true) {
        if (started !== undefined) throwUnlessPassing(started.lastWords());
        started = launch(cluster, port ?? (await findFreePort()));
      }
      await sleep(POLL_MS, undefined, { signal });
    }
    throw new StartError(
      `The embedded PostgreSQL in “${cluster.dataDir}” does not answer: see “${cluster.logFile}”.`,
    );
  } catch (error) {
    // Refused means that someone else has claimed the server, perhaps the one that we started.
    if (refusedSince === undefined) await started?.stop();
    throw error;
  }
}

function inUse(cluster: Cluster, holder: string): StartError {
  return new StartError(
    `The data folder “${cluster.dataDir}” is in use by another running gateway (${holder}): ` +
      'stop that one first, or name another folder in DATA_DIR.',
  );
}

function throwUnlessPassing(reason: string): void {
  if (PASSING.test(reason)) return;
  throw new StartError(`The embedded PostgreSQL did not start: ${reason}`);
}

type Answer =
  | { readonly state: 'claimed'; readonly claim: Claim }
  | { readonly state: 'taken'; readonly holder: string }
  | { readonly state: 'away' };

async function tryClaim(cluster: Cluster, port: number): Promise<Answer> {
  const client = new pg.Client({
    host: LOOPBACK,
    port,
    user: DATABASE_USER,
    password: cluster.password,
    database: 'postgres',
    application_name: `process ${process.pid}`,
    connectionTimeoutMillis: 3_000,
  });
  const lost = new Promise<void>((resolve) => client.once('end', resolve));
  // An error on an idle session is followed by its end, which is what is listened to.
  client.on('error', () => undefined);
  try {
    await client.connect();
    const { rows } = await client.query<{ claimed: boolean }>(
      'select pg_try_advisory_lock($1) as claimed',
      [CLAIM_LOCK],
    );
    if (rows[0]?.claimed === true) return { state: 'claimed', claim: { port, lost } };
    const holder = await findHolder(client);
    await client.end();
    return { state: 'taken', holder };
  } catch {
    await client.end().catch(() => undefined);
    return { state: 'away' }; // Still starting, already stopping, or gone since its file was read.
  }
}

async function findHolder(client: pg.Client): Promise<string> {
  const { rows } = await client.query<{ application_name: string }>(
    `select application_name from pg_locks join pg_stat_activity using (pid)
      where locktype = 'advisory' and granted and classid = 0 and objid = $1`,
    [CLAIM_LOCK],
  );
  return rows[0]?.application_name ?? 'unknown process';
}
