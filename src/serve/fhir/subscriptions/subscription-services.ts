/** What the routes of subscriptions work with. */
import type { FhirIntake } from '../../../compose/fhir-intake.js';
import type { Pool } from '../../../store/pool.js';
import type { FhirSite } from '../site.js';

export interface SubscriptionServices extends Pick<FhirSite, 'baseUrl' | 'siteMs'> {
  /** For what is written. */
  readonly pool: Pool;
  readonly readers: Pool;
  readonly intake: FhirIntake;
  /** ms since the epoch. */
  readonly clock: () => number;
  /** Why an endpoint would never be notified, as a sentence; null: it might be. */
  readonly refusalOf: (endpoint: string) => string | null;
  /** Told of every change, so that it is acted on at once. */
  readonly onChanged: () => void;
}

/** What the meaning of a Subscription hangs on beside itself. */
export type SubscriptionContext = Pick<SubscriptionServices, 'baseUrl' | 'siteMs' | 'refusalOf'> & {
  readonly nowMs: number;
};
