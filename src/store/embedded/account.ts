import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import type { SpawnOptions } from 'node:child_process';
import { StartError } from '../../errors.js';
import { USE_YOUR_OWN } from './binaries.js';

/** A user and group id of the operating system. */
export interface Account {
  readonly uid: number;
  readonly gid: number;
}

/** How PostgreSQL's programs are run on this machine, and which major version they are. */
export interface Runner {
  /** The account that they run as and that owns the data folder; undefined: our own. */
  readonly account: Account | undefined;
  /** A program, with arguments, that starts the one behind it. */
  readonly prefix: readonly string[];
  readonly majorVersion: string;
}

/** The program and its arguments as this runner starts them, and the options to spawn it with. */
export function runAs(
  runner: Runner,
  program: string,
  args: readonly string[],
): { file: string; args: string[]; options: Pick<SpawnOptions, 'uid' | 'gid' | 'env'> } {
  const [file = program, ...rest] = [...runner.prefix, program, ...args];
  const ids = runner.prefix.length === 0 ? (runner.account ?? {}) : {};
  return { file, args: rest, options: { ...ids, env: childEnvironment() } };
}

/**
 * The name by which a program that was started inside `folder` should call it. A folder of root's,
 * closed to others, cannot be reached by its path from another account; the current folder, entered
 * before the account was changed, can.
 */
export function folderName(runner: Runner, folder: string): string {
  return runner.account !== undefined && existsSync('/proc/self/cwd') ? '/proc/self/cwd' : folder;
}

/**
 * Finds out how to run PostgreSQL here by asking it for its version.
 *
 * It refuses to run as root. So for root it runs as `owner` of the data folder or, at first, as
 * `nobody`; no account is made. Where that account cannot reach the programs (a project below /root,
 * say), `setpriv` of util-linux lends it the one capability to pass closed folders.
 * `no_setuid_fixup` keeps access(2), by which PostgreSQL looks for its own programs, from dropping it.
 *
 * @throws StartError when the programs run in none of these ways.
 */
export function findRunner(postgres: string, owner: Account | undefined): Runner {
  if (process.getuid?.() !== 0) return tryRunners(postgres, [{ account: undefined, prefix: [] }]);
  const account = owner === undefined || owner.uid === 0 ? findNobody() : owner;
  const prefix = [
    ...['setpriv', '--reuid', String(account.uid), '--regid', String(account.gid)],
    ...['--clear-groups', '--inh-caps', '+dac_override', '--ambient-caps', '+dac_override'],
    ...['--securebits', '+no_setuid_fixup'],
  ];
  return tryRunners(postgres, [
    { account, prefix: [] },
    { account, prefix },
  ]);
}

function tryRunners(postgres: string, ways: readonly Omit<Runner, 'majorVersion'>[]): Runner {
  let complaint = '';
  for (const way of ways) {
    const { file, args, options } = runAs({ ...way, majorVersion: '' }, postgres, ['--version']);
    const { stdout, stderr, error } = spawnSync(file, args, { ...options, encoding: 'utf8' });
    const majorVersion = /\(PostgreSQL\) (\d+)/.exec(stdout)?.[1];
    // With a complaint on stderr the version may still come, but the server would not start.
    if (majorVersion !== undefined && stderr === '') return { ...way, majorVersion };
    complaint = error?.message ?? stderr.trim().split('\n')[0] ?? '';
  }
  throw new StartError(
    `The embedded PostgreSQL does not run on this machine (${complaint}): ${USE_YOUR_OWN}.`,
  );
}

/** The account `nobody`, which every Unix has: initdb insists on an entry in the user database. */
function findNobody(): Account {
  const entry = /^nobody:[^:]*:(\d+):(\d+):/m.exec(readFileSync('/etc/passwd', 'utf8'));
  if (entry === null) {
    throw new StartError(
      'The embedded PostgreSQL does not run as root, and there is no account “nobody” to run it as: ' +
        `start the gateway as another user, or ${USE_YOUR_OWN}.`,
    );
  }
  return { uid: Number(entry[1]), gid: Number(entry[2]) };
}

/** Nothing of our environment reaches the server: PG… variables would redirect it, others are secret. */
function childEnvironment(): NodeJS.ProcessEnv {
  const { PATH, SystemRoot } = process.env;
  return { LC_ALL: 'C', TZ: 'UTC', ...(PATH && { PATH }), ...(SystemRoot && { SystemRoot }) };
}
