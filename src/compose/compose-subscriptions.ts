/** Subscriptions put together: what their routes need, and the work that every process does on them. */
import type { Subscribers } from './outside-access.js';
import type { SubscriptionServices } from '../serve/fhir/subscriptions/subscription-services.js';
import type { Pool } from '../store/pool.js';
import { Deliverer } from '../subscriptions/deliverer.js';
import type { DelivererOptions } from '../subscriptions/deliverer.js';
import { zoneClock } from '../vitals/zone-time.js';

export interface SubscriptionOptions extends Pick<
  DelivererOptions,
  'clock' | 'countNotification' | 'onFailure'
> {
  /** For what owners change. */
  readonly pool: Pool;
  /** For all the rest: a subscriber that is behind must not keep a critical value waiting. */
  readonly readers: Pool;
  readonly siteZone: string;
  readonly subscribers: Subscribers;
}

export interface Subscriptions {
  readonly routeServices: Omit<SubscriptionServices, 'baseUrl' | 'siteMs' | 'intake'>;
  /** Something was published. */
  readonly onPublished: () => void;
  readonly start: (publicUrl: string) => void;
  readonly stop: () => Promise<void>;
}

export function composeSubscriptions(options: SubscriptionOptions): Subscriptions {
  const { pool, readers, siteZone, subscribers, clock, countNotification, onFailure } = options;
  let deliverer: Deliverer | undefined;
  const kick = (): void => deliverer?.kick();
  return {
    routeServices: { pool, readers, clock, refusalOf: subscribers.refusalOf, onChanged: kick },
    onPublished: kick,
    start(publicUrl) {
      deliverer = new Deliverer({
        ...{ clock, countNotification, onFailure, pool: readers, fetch: subscribers.fetch },
        siteMs: zoneClock(siteZone).firstMomentAt,
        baseUrl: `${publicUrl}/fhir`,
      });
      deliverer.start();
    },
    stop: async () => deliverer?.stop(),
  };
}
