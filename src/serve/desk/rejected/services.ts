import type { Names } from '../../../store/names.js';
import type { Pool } from '../../../store/pool.js';
import type { RecordLook } from '../../http/audit-requests.js';
import type { ReviewServices } from '../../review/services.js';

/** What the pages of rejected readings need. */
export interface RejectedServices {
  /** Of readers: searching must not keep sets waiting. */
  readonly pool: Pool;
  readonly names: Names;
  /** Takes down what a page of an export shows. */
  readonly record: RecordLook;
  readonly replay: ReviewServices['replay'];
  /** Ids of all rules, for the list to choose from. */
  readonly ruleIds: readonly string[];
  /** IANA name of the zone in which times are read and shown. */
  readonly siteZone: string;
  /** ms since the epoch. */
  readonly clock: () => number;
}
