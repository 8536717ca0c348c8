import { execFile } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { chown, mkdir, readFile, readdir, rename, rm, stat, writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { promisify } from 'node:util';
import { StartError } from '../../errors.js';
import type { Runner } from './account.js';
import { findRunner, folderName, runAs } from './account.js';
import { USE_YOUR_OWN, findBinaries } from './binaries.js';
import type { Binaries } from './binaries.js';
import { isAlive } from './processes.js';

/** A database cluster on disk, complete, and made by the version of PostgreSQL at hand. */
export interface Cluster {
  /** As the person named it, for messages. */
  readonly dataDir: string;
  /** PostgreSQL's own data folder. */
  readonly folder: string;
  readonly logFile: string;
  readonly password: string;
  readonly postgres: string;
  readonly runner: Runner;
}

/** The one database account, owner of everything in the cluster. */
export const DATABASE_USER = 'gateway';

/**
 * Opens the cluster in `dataDir`, and makes it if there is none: `postgres/` in it holds PostgreSQL's
 * data folder, the password of the database account and the server's log.
 *
 * @throws StartError with one sentence when the folder or the programs cannot be used.
 */
export async function openCluster(dataDir: string): Promise<Cluster> {
  await makeDataDir(dataDir);
  const home = resolve(dataDir, 'postgres');
  const binaries = findBinaries();
  const owner = await stat(home).catch(() => undefined);
  const runner = findRunner(binaries.postgres, owner);
  if (owner === undefined) await makeCluster(home, binaries, runner);
  const folder = join(home, 'cluster');
  await checkVersion(dataDir, folder, runner.majorVersion);
  return {
    dataDir,
    folder,
    logFile: join(home, 'server.log'),
    password: (await readFile(join(home, 'password'), 'utf8')).trim(),
    postgres: binaries.postgres,
    runner,
  };
}

async function makeDataDir(dataDir: string): Promise<void> {
  try {
    await mkdir(dataDir, { recursive: true, mode: 0o700 });
    await sweepLeftovers(dataDir);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const why =
      code === 'EEXIST' || code === 'ENOTDIR'
        ? 'is not a folder'
        : `cannot be used (${code ?? ''})`;
    throw new StartError(
      `DATA_DIR is “${dataDir}”, which ${why}: name a folder that this user may write to.`,
    );
  }
}

/** Removes what starts that were killed half-way have left. */
async function sweepLeftovers(dataDir: string): Promise<void> {
  for (const name of await readdir(dataDir)) {
    const maker = /^postgres\.new-(\d+)$/.exec(name)?.[1];
    if (maker !== undefined && !isAlive(Number(maker))) {
      await rm(join(dataDir, name), { recursive: true, force: true });
    }
  }
}

/** Made beside its place and renamed into it: what stands there is complete, also after a kill. */
async function makeCluster(home: string, binaries: Binaries, runner: Runner): Promise<void> {
  const draft = `${home}.new-${process.pid}`;
  const folder = join(draft, 'cluster');
  try {
    await mkdir(folder, { recursive: true, mode: 0o700 });
    const password = join(draft, 'password');
    await writeFile(password, randomBytes(32).toString('base64url'), { mode: 0o600 });
    if (runner.account !== undefined) {
      const { uid, gid } = runner.account;
      for (const path of [draft, folder, password]) await chown(path, uid, gid);
    }
    await initialise(folder, binaries.initdb, runner);
    await rename(draft, home);
  } catch (error) {
    await rm(draft, { recursive: true, force: true });
    // Another start was quicker: its cluster is as good as ours.
    if (!(error instanceof StartError) && (await stat(home).catch(() => undefined))) return;
    if (error instanceof StartError) throw error;
    const { code } = error as NodeJS.ErrnoException;
    throw new StartError(
      `The embedded database cannot be made at “${home}” (${code ?? 'unknown reason'}): ` +
        `name a folder that this user may write to in DATA_DIR, or ${USE_YOUR_OWN}.`,
    );
  }
}

/**
 * Runs initdb. The collation is PostgreSQL's own C.UTF-8, the same on every machine; the files are
 * flushed to disk (a tenth of a second), since committed sets will depend on them.
 */
async function initialise(folder: string, initdb: string, runner: Runner): Promise<void> {
  const name = folderName(runner, folder);
  const { file, args, options } = runAs(runner, initdb, [
    `--pgdata=${name}`,
    `--username=${DATABASE_USER}`,
    `--pwfile=${name}/../password`,
    '--auth=scram-sha-256',
    '--encoding=UTF8',
    '--locale=C',
    '--locale-provider=builtin',
    '--builtin-locale=C.UTF-8',
    '--no-instructions',
  ]);
  try {
    await promisify(execFile)(file, args, { ...options, cwd: folder });
  } catch (error) {
    const { stderr, message } = error as Error & { stderr?: string };
    const reason = (stderr ?? message).split('\n').find((line) => line.startsWith('initdb:'));
    throw new StartError(
      `The embedded database cannot be made (${reason?.trim() ?? message}): ${USE_YOUR_OWN}.`,
    );
  }
}

async function checkVersion(dataDir: string, folder: string, majorVersion: string): Promise<void> {
  let found: string;
  try {
    found = (await readFile(join(folder, 'PG_VERSION'), 'utf8')).trim();
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    const why = code === 'EACCES' ? 'belongs to another user' : 'holds no complete database';
    throw new StartError(
      `The folder “${join(dataDir, 'postgres')}” ${why}: move it away or name another in DATA_DIR.`,
    );
  }
  if (found !== majorVersion) {
    throw new StartError(
      `The data folder “${dataDir}” was made by PostgreSQL ${found}, this is PostgreSQL ` +
        `${majorVersion}: start the older gateway once more to get the data out, or name another ` +
        'folder in DATA_DIR.',
    );
  }
}
