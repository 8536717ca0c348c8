import { spawn } from 'node:child_process';
import {
  closeSync,
  fchownSync,
  fstatSync,
  ftruncateSync,
  openSync,
  readFileSync,
  realpathSync,
  rmSync,
} from 'node:fs';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { join } from 'node:path';
import { folderName, runAs } from './account.js';
import type { Cluster } from './cluster.js';
import { endServer, isAlive, isKnown } from './processes.js';

/** The server process that works in a data folder, as its lock file tells. */
export interface Postmaster {
  readonly pid: number;
  readonly port: number;
  readonly ready: boolean;
}

/** A server process that we have started. */
export interface Launch {
  readonly isRunning: () => boolean;
  /** Once it has ended: what it complained of, in its own words. */
  readonly lastWords: () => string;
  readonly stop: () => Promise<void>;
}

export const LOOPBACK = '127.0.0.1';
const MAX_LOG_BYTES = 1_048_576;

/**
 * Settings of the server. Nothing here relaxes durability: fsync, full_page_writes and
 * synchronous_commit keep their defaults, since the gateway answers 2xx after the commit.
 * The log holds no statements and no details, which could tell patient data.
 */
const SETTINGS = {
  listen_addresses: LOOPBACK,
  unix_socket_directories: '',
  max_connections: '100',
  shared_buffers: '128MB',
  jit: 'off',
  timezone: 'UTC',
  log_timezone: 'UTC',
  log_checkpoints: 'off',
  log_min_messages: 'log',
  log_min_error_statement: 'panic',
  log_error_verbosity: 'terse',
  // An orphaned session ends, and frees its locks, within this time also while a query runs.
  client_connection_check_interval: '1s',
};

/**
 * The server that lives in this cluster's folder, ours or one that outlived its gateway. A lock file
 * whose process id belongs to some other program by now is removed, because PostgreSQL would refuse
 * to start beside it; one whose process is gone PostgreSQL clears away itself.
 */
export function findPostmaster(folder: string): Postmaster | undefined {
  const lockFile = join(folder, 'postmaster.pid');
  let lines: string[];
  try {
    lines = readFileSync(lockFile, 'utf8').split('\n');
  } catch {
    return undefined;
  }
  const pid = Number(lines[0]);
  // Just being written; 0 and negative ids would mean process groups.
  if (!(pid > 0)) return undefined;
  if (isAlive(pid) && worksIn(pid, folder)) {
    return { pid, port: Number(lines[3]), ready: lines[7]?.trim() === 'ready' };
  }
  if (isKnown(pid)) rmSync(lockFile, { force: true });
  return undefined;
}

/** A server's current folder is its data folder. Where the system does not tell, believe the lock file. */
function worksIn(pid: number, folder: string): boolean {
  try {
    return realpathSync(`/proc/${pid}/cwd`) === realpathSync(folder);
  } catch {
    return true;
  }
}

/**
 * Starts the server in a session of its own: Ctrl-C reaches a whole process group, and the gateway
 * must finish its work before the database goes.
 */
export function launch(cluster: Cluster, port: number): Launch {
  const settings = Object.entries(SETTINGS).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const name = folderName(cluster.runner, cluster.folder);
  const commandArgs = ['-D', name, '-p', String(port), ...settings];
  const { file, args, options } = runAs(cluster.runner, cluster.postgres, commandArgs);
  const log = openSync(cluster.logFile, 'a', 0o600);
  if (fstatSync(log).size > MAX_LOG_BYTES) ftruncateSync(log);
  const start = fstatSync(log).size;
  const { account } = cluster.runner;
  if (account !== undefined) fchownSync(log, account.uid, account.gid);
  const child = spawn(file, args, {
    ...options,
    cwd: cluster.folder,
    detached: true,
    stdio: ['ignore', log, log],
  });
  closeSync(log);
  let failure: Error | undefined;
  child.on('error', (error) => (failure = error));
  child.unref();
  const isRunning = () =>
    failure === undefined && child.exitCode === null && child.signalCode === null;
  return {
    isRunning,
    lastWords: () => failure?.message ?? lastWords(cluster.logFile, start),
    stop: async () => {
      if (child.pid !== undefined && isRunning()) await endServer(child.pid);
    },
  };
}

/** What the server complained of after byte `start` of its log, the fatal line last. */
function lastWords(logFile: string, start: number): string {
  const lines = readFileSync(logFile).subarray(start).toString('utf8').trim().split('\n');
  const serious = lines.filter((line) => /FATAL|PANIC|could not bind/.test(line));
  const told = serious.length > 0 ? serious : lines.slice(-1);
  return told.map((line) => line.replace(/^.*?\] /, '')).join('; ');
}

/** A loopback port that nobody uses just now. */
export async function findFreePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject).listen(0, LOOPBACK, resolve);
  });
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}
