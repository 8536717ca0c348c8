import { readFileSync } from 'node:fs';

// One level up is the root of the package from `src/` and from `dist/` alike.
const manifest = JSON.parse(readFileSync(new URL('../package.json', import.meta.url), 'utf8')) as {
  version: string;
};

/** Version of this program, as in package.json. */
export const VERSION = manifest.version;
