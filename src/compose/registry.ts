/** The registry put together: what is kept of sources and devices, and the routes that change it. */
import { compareSecondIdentifiers } from '../rules/identifiers.js';
import { registryRoutes } from '../serve/admin/routes.js';
import type { Route } from '../serve/http/route.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import { SourceClocks } from '../store/source-clocks.js';
import { SourceDirectory } from '../store/source-directory.js';
import { HourTally } from '../store/hour-tally.js';

export interface Registry {
  /** Which source a message comes from, and how it is read. */
  readonly directory: SourceDirectory;
  readonly sourceClocks: SourceClocks;
  readonly sourceTally: HourTally;
  readonly deviceTally: HourTally;
  /** Under /admin. */
  readonly routes: readonly Route[];
}

export function composeRegistry(pool: Pool, names: Names): Registry {
  const directory = new SourceDirectory(pool);
  return {
    directory,
    sourceClocks: new SourceClocks(pool),
    sourceTally: new HourTally(pool, 'source'),
    deviceTally: new HourTally(pool, 'device'),
    routes: registryRoutes({
      ...{ pool, names, directory },
      compareIdentity: compareSecondIdentifiers,
      clock: Date.now,
    }),
  };
}
