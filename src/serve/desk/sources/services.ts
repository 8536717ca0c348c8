import type { MessageTrialServices } from '../../admin/message-trial-route.js';
import type { RegistryServices } from '../../admin/services.js';

/** What the pages of sources and devices need. */
export interface SourcePagesServices extends Omit<RegistryServices, 'compareIdentity'> {
  readonly tryMessage: MessageTrialServices['tryMessage'];
  /** IANA name of the zone in which times are read and shown. */
  readonly siteZone: string;
}
