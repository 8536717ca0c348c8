import type { ReviewServices } from '../review/services.js';
import type { HeldFeed } from './held/feed.js';

/** What the lists of held readings and the page of one need. */
export interface HeldServices {
  readonly review: ReviewServices;
  /** IANA name of the zone that times are shown in. */
  readonly siteZone: string;
  readonly feed: HeldFeed;
  /** Ids of the rules that may hold a reading. */
  readonly heldRules: readonly string[];
}
