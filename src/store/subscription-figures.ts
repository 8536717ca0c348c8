import type { Pool } from 'pg';
import { SUBSCRIPTION_COLUMNS, toSubscription } from './subscriptions.js';
import type { SubscriptionRecord, SubscriptionRow, SubscriptionStatus } from './subscriptions.js';

/** How subscriptions stand, all together. */
export interface SubscriptionFigures {
  readonly counts: Readonly<Record<SubscriptionStatus, number>>;
  /** Stamp of the oldest event that an active one has still to deliver, in ms since the epoch. */
  readonly oldestWaitingMs: number | null;
  readonly nowMs: number;
}

export async function readSubscriptionFigures(pool: Pool): Promise<SubscriptionFigures> {
  const { rows } = await pool.query<
    Record<SubscriptionStatus, number> & { now: Date; oldest: Date | null }
  >(
    `select clock_timestamp() as now,
            count(*) filter (where s.status = 'requested')::int as requested,
            count(*) filter (where s.status = 'active')::int as active,
            count(*) filter (where s.status = 'error')::int as error,
            count(*) filter (where s.status = 'off')::int as off,
            min((select e.stamp from subscription_events e
                  where e.subscription_key = s.subscription_key and e.event_number = s.settled + 1))
              filter (where s.status = 'active') as oldest
       from subscriptions s`,
  );
  const [row] = rows;
  if (row === undefined) throw new Error('an aggregate has no row');
  const { now, oldest, ...counts } = row;
  return { counts, oldestWaitingMs: oldest?.getTime() ?? null, nowMs: now.getTime() };
}

/** Of any owner, with the owner's client id: for the admin. */
export async function listSubscriptions(
  pool: Pool,
  limit: number,
): Promise<(SubscriptionRecord & { readonly clientId: string })[]> {
  const { rows } = await pool.query<SubscriptionRow & { client_id: string }>(
    `select ${SUBSCRIPTION_COLUMNS}, c.client_id from subscriptions s join clients c using (client_key)
      order by s.subscription_key limit $1`,
    [limit],
  );
  return rows.map((row) => ({ ...toSubscription(row), clientId: row.client_id }));
}
