import { Counter, Gauge } from 'prom-client';
import type { Registry } from 'prom-client';
import type { SubscriptionFigures } from '../../store/subscription-figures.js';
import { askOnce } from './ask-once.js';

/** Told of each notification: its type, and what became of it. */
export type CountNotification = (type: string, outcome: string) => void;

/**
 * How subscriptions stand, all together, and what became of notifications.
 * @param readFigures asked at each scrape
 */
export function addSubscriptionMetrics(
  registry: Registry,
  readFigures: () => Promise<SubscriptionFigures>,
): CountNotification {
  const notifications = new Counter({
    name: 'gateway_subscription_notifications_total',
    help: 'Notifications of subscribers, by type and by what became of them',
    labelNames: ['type', 'outcome'],
    registers: [registry],
  });
  const readOnce = askOnce(readFigures);
  new Gauge({
    name: 'gateway_subscriptions',
    help: 'Subscriptions, by status',
    labelNames: ['status'],
    registers: [registry],
    async collect() {
      this.reset();
      // Without the database nobody knows; the other figures still matter.
      const figures = await readOnce().catch(() => null);
      for (const [status, count] of Object.entries(figures?.counts ?? {})) {
        this.set({ status }, count);
      }
    },
  });
  new Gauge({
    name: 'gateway_subscription_lag_seconds',
    help: 'Age of the oldest event that an active subscription has still to deliver; 0 when there is none',
    registers: [registry],
    async collect() {
      this.set(await readOnce().then(lagOf, () => NaN));
    },
  });
  return (type, outcome) => {
    notifications.inc({ type, outcome });
  };
}

function lagOf({ oldestWaitingMs, nowMs }: SubscriptionFigures): number {
  return oldestWaitingMs === null ? 0 : Math.max(0, (nowMs - oldestWaitingMs) / 1000);
}
