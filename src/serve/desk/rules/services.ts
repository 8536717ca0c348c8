import type { RulesServices } from '../../rules/services.js';

/** What the pages of the rules need: what the routes under /rules have, and the zone of the site. */
export interface RulePagesServices extends RulesServices {
  /** IANA name of the zone in which times are read and shown. */
  readonly siteZone: string;
}
