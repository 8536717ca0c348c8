import type { Pipeline } from '../../pipeline.js';
import type { Names } from '../../store/names.js';
import type { Pool } from '../../store/pool.js';
import type { ReplayMode } from '../../store/replaying.js';
import type { ReplayedReading } from '../../store/replay-set.js';
import type { DecisionAction } from '../../vitals/decisions.js';
import type { ReadingVersion } from '../../vitals/shapes.js';

export interface ReviewServices {
  readonly pool: Pool;
  readonly names: Names;
  /** Patients were merged, or are two again: sets that wait for their patient may go on. */
  readonly onPatientsChanged: () => void;
  /** Reads a kept message again by today's mapping, or looks at what would come of it; null: no such submission. */
  readonly replay: (
    submissionId: string,
    cause: { readonly clientKey: number; readonly personKey: number | null },
    mode?: ReplayMode,
  ) => Promise<readonly ReplayedReading[] | null>;
  readonly pipeline: Pick<Pipeline, 'decideReading'>;
  /** What can be decided about a reading in this state. */
  readonly allowedActions: (
    state: Pick<ReadingVersion, 'verdict' | 'hold' | 'status'>,
  ) => readonly DecisionAction[];
}
