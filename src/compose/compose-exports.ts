/** Bulk export put together: its routes, and the work that every process does on exports. */
import { ExportPlanner } from '../background/export-planner.js';
import { fhirIntake } from './fhir-intake.js';
import { exportSiteOf } from '../serve/exports/export-types.js';
import { createGate } from '../serve/exports/gate.js';
import { exportArea } from '../serve/exports/routes.js';
import type { Area } from '../serve/http/route.js';
import type { Pool } from '../store/pool.js';

/** Connections of the readers that the files of exports may hold, whatever else is fetched. */
const FILE_CONNECTIONS = 2;

export interface ExportOptions {
  readonly pool: Pool;
  readonly readers: Pool;
  readonly siteZone: string;
  readonly clock: () => number;
  readonly onFailure: (error: unknown) => void;
}

export interface Exports {
  readonly areaAt: (publicUrl: string) => Area;
  /** Looks for work from now on. */
  readonly start: (publicUrl: string) => void;
  readonly stop: () => Promise<void>;
}

export function composeExports(options: ExportOptions): Exports {
  const { pool, readers, siteZone, clock, onFailure } = options;
  let planner: ExportPlanner | undefined;
  return {
    areaAt: (publicUrl) =>
      exportArea({
        ...exportSiteOf(readers, publicUrl, siteZone),
        ...{ pool, clock, intake: fhirIntake, pages: createGate(FILE_CONNECTIONS) },
        onStarted: () => planner?.kick(),
      }),
    start(publicUrl) {
      const site = exportSiteOf(readers, publicUrl, siteZone);
      planner = new ExportPlanner({ pool, site, clock, onFailure });
      planner.start();
    },
    stop: async () => planner?.stop(),
  };
}
