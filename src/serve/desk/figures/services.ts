import type { Pool } from '../../../store/pool.js';
import type { Reading } from '../../../vitals/shapes.js';

/** What the pages of figures need. */
export interface FiguresServices {
  /** Connections of searches and lists. */
  readonly pool: Pool;
  /** IANA zone of the site. */
  readonly siteZone: string;
  /** Ms since the epoch. */
  readonly clock: () => number;
  /** Whether a device's report lets its reading be held against others, as the rules see it. */
  readonly speaksOfOthers: (reading: Pick<Reading, 'report'>) => boolean;
}
