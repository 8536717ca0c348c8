/** What the routes of bulk export work with. */
import type { FhirIntake } from '../../compose/fhir-intake.js';
import type { Pool } from '../../store/pool.js';
import type { ExportSite } from './export-types.js';
import type { Gate } from './gate.js';

export interface ExportServices extends ExportSite {
  /** For what is written: exports and audit lines. */
  readonly pool: Pool;
  readonly clock: () => number;
  /** Told of every export once it is kept. */
  readonly onStarted: () => void;
  readonly intake: FhirIntake;
  /** Pages that are read at once, of all files that are being fetched. */
  readonly pages: Gate;
}
