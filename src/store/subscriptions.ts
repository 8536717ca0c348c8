/** Subscriptions as their owners give and see them. Header values leave this file for sending alone. */
import type { Pool, PoolClient } from 'pg';
import { insertAudit } from './audit.js';
import type { Origin } from './audit.js';
import { lockSubscriptions } from './locks.js';
import { inTransaction } from './transaction.js';

export type SubscriptionStatus = 'requested' | 'active' | 'error' | 'off';
/** How much a notification tells of the resources. */
export type NotificationContent = 'empty' | 'id-only' | 'full-resource';

/** What its owner asks for. */
export interface SubscriptionRequest {
  readonly topic: string;
  /** Searches of Observation, all to be met. */
  readonly filters: readonly string[];
  readonly endpoint: string;
  readonly mimeType: string;
  readonly content: NotificationContent;
  /** Null: none is wanted. */
  readonly heartbeatSeconds: number | null;
  /** Null: as the gateway has it; so is the next. */
  readonly timeoutSeconds: number | null;
  readonly maxCount: number | null;
  readonly endsMs: number | null;
  readonly reason: string;
  readonly contact: readonly object[] | null;
}

/** A subscription and how it stands. Times in ms since the epoch. */
export interface SubscriptionRecord extends SubscriptionRequest {
  readonly subscriptionKey: number;
  readonly subscriptionId: string;
  readonly clientKey: number;
  readonly version: number;
  readonly changedMs: number;
  /** Of the headers only the names. */
  readonly headerNames: readonly string[];
  readonly status: SubscriptionStatus;
  /** Why it is not being delivered now. */
  readonly error: string | null;
  /** The number of the last event counted. */
  readonly events: number;
  /** Events up to this number were delivered or given up. */
  readonly settled: number;
  readonly failures: number;
  readonly failingSinceMs: number | null;
  readonly refusals: number;
  readonly givenUp: number;
  readonly lastSentMs: number | null;
}

export interface SubscriptionRow {
  subscription_key: number;
  subscription_id: string;
  client_key: number;
  version: number;
  changed_at: Date;
  topic: string;
  filters: string[];
  endpoint: string;
  header_names: string[];
  mime_type: string;
  content: NotificationContent;
  heartbeat_seconds: number | null;
  timeout_seconds: number | null;
  max_count: number | null;
  ends_at: Date | null;
  reason: string;
  contact: object[] | null;
  status: SubscriptionStatus;
  error: string | null;
  events: number;
  settled: number;
  failures: number;
  failing_since: Date | null;
  refusals: number;
  given_up: number;
  last_sent_at: Date | null;
}

/** The `select` list for {@link toSubscription}, of subscriptions `s`. */
export const SUBSCRIPTION_COLUMNS = `
  s.subscription_key, s.subscription_id, s.client_key, s.version, s.changed_at, s.topic, s.filters,
  s.endpoint, array(select split_part(h, ':', 1) from unnest(s.headers) h) as header_names,
  s.mime_type, s.content, s.heartbeat_seconds, s.timeout_seconds, s.max_count, s.ends_at, s.reason,
  s.contact, s.status, s.error, s.events, s.settled, s.failures, s.failing_since, s.refusals,
  s.given_up, s.last_sent_at`;

export function toSubscription(row: SubscriptionRow): SubscriptionRecord {
  return {
    subscriptionKey: row.subscription_key,
    subscriptionId: row.subscription_id,
    clientKey: row.client_key,
    version: row.version,
    changedMs: row.changed_at.getTime(),
    topic: row.topic,
    filters: row.filters,
    endpoint: row.endpoint,
    headerNames: row.header_names,
    mimeType: row.mime_type,
    content: row.content,
    heartbeatSeconds: row.heartbeat_seconds,
    timeoutSeconds: row.timeout_seconds,
    maxCount: row.max_count,
    endsMs: row.ends_at?.getTime() ?? null,
    reason: row.reason,
    contact: row.contact,
    status: row.status,
    error: row.error,
    events: row.events,
    settled: row.settled,
    failures: row.failures,
    failingSinceMs: row.failing_since?.getTime() ?? null,
    refusals: row.refusals,
    givenUp: row.given_up,
    lastSentMs: row.last_sent_at?.getTime() ?? null,
  };
}

/** How many subscriptions there may be. */
export interface SubscriptionBounds {
  readonly ofClient: number;
  readonly all: number;
}

/** Whose it is, and the request that acts on it. */
export interface OwnedSubscription {
  readonly clientKey: number;
  readonly subscriptionId: string;
  readonly origin?: Origin | undefined;
}

interface Given {
  readonly request: SubscriptionRequest;
  /** Lines `Name: value`. */
  readonly headers: readonly string[];
  readonly nowMs: number;
}

/** In the order of the columns from `endpoint` on; topic and filters are never changed. */
function changeable({ request, headers }: Given): unknown[] {
  const { endsMs, contact } = request;
  return [
    request.endpoint,
    headers,
    request.mimeType,
    request.content,
    request.heartbeatSeconds,
    request.timeoutSeconds,
    request.maxCount,
    endsMs === null ? null : new Date(endsMs),
    request.reason,
    contact === null ? null : JSON.stringify(contact),
  ];
}

/** Keeps a new subscription; what is committed from now on counts for it. */
export async function insertSubscription(
  pool: Pool,
  owner: OwnedSubscription,
  given: Given,
  bounds: SubscriptionBounds,
): Promise<SubscriptionRecord | 'too-many'> {
  const { clientKey, subscriptionId } = owner;
  const { request, nowMs } = given;
  return inTransaction(pool, async (client) => {
    await lockSubscriptions(client);
    const { rows: counts } = await client.query<{ own: number; all: number }>(
      'select count(*) filter (where client_key = $1)::int as own, count(*)::int as all from subscriptions',
      [clientKey],
    );
    const { own = 0, all = 0 } = counts[0] ?? {};
    if (own >= bounds.ofClient || all >= bounds.all) return 'too-many';
    const { rows } = await client.query<SubscriptionRow>(
      `insert into subscriptions as s (subscription_id, client_key, version, changed_at, topic, filters,
              endpoint, headers, mime_type, content, heartbeat_seconds, timeout_seconds, max_count,
              ends_at, reason, contact, status, cursor_stamp, due_at, worked_at)
       select $1, $2, 1, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, 'requested', last_stamp, $3, $3
         from publication_clock
       returning ${SUBSCRIPTION_COLUMNS}`,
      [
        ...[subscriptionId, clientKey, new Date(nowMs), request.topic, request.filters],
        ...changeable(given),
      ],
    );
    await audit(client, owner, 'subscription-add', 201, {
      topic: request.topic,
      content: request.content,
    });
    const [row] = rows;
    if (row === undefined) throw new Error('publication_clock has lost its row');
    return toSubscription(row);
  });
}

async function audit(
  client: PoolClient,
  owner: OwnedSubscription,
  action: string,
  outcome: number,
  detail?: Readonly<Record<string, unknown>>,
): Promise<void> {
  const entity = `Subscription/${owner.subscriptionId}`;
  const { clientKey, origin } = owner;
  await insertAudit(client, [{ clientKey, origin, action, outcome, entity, detail }]);
}

/** The subscriptions of that client, oldest first; with an id, that one alone. */
export async function findOwnSubscriptions(
  pool: Pool,
  clientKey: number,
  subscriptionId: string | null = null,
): Promise<SubscriptionRecord[]> {
  const { rows } = await pool.query<SubscriptionRow>(
    `select ${SUBSCRIPTION_COLUMNS} from subscriptions s
      where s.client_key = $1 and ($2::uuid is null or s.subscription_id = $2)
      order by s.subscription_key`,
    [clientKey, subscriptionId],
  );
  return rows.map(toSubscription);
}

/** A subscription with its headers, as whoever changes it must know them. */
export interface KeptSubscription extends SubscriptionRecord {
  readonly headers: readonly string[];
}

export interface SubscriptionChange {
  readonly request: SubscriptionRequest;
  readonly headers: readonly string[];
  readonly status: SubscriptionStatus;
}

/**
 * Changes a subscription of that client as `change` says, which may throw to leave it as it is. What had
 * failed is forgotten: the owner has looked at it. Null: the client has none of that id.
 */
export async function changeSubscription(
  pool: Pool,
  owner: OwnedSubscription,
  nowMs: number,
  change: (kept: KeptSubscription) => SubscriptionChange,
): Promise<SubscriptionRecord | null> {
  return inTransaction(pool, async (client) => {
    const { rows } = await client.query<SubscriptionRow & { headers: string[] }>(
      `select ${SUBSCRIPTION_COLUMNS}, s.headers from subscriptions s
        where s.client_key = $1 and s.subscription_id = $2 for update`,
      [owner.clientKey, owner.subscriptionId],
    );
    const [row] = rows;
    if (row === undefined) return null;
    const { request, headers, status } = change({ ...toSubscription(row), headers: row.headers });
    const { rows: changed } = await client.query<SubscriptionRow>(
      `update subscriptions s
          set version = version + 1, changed_at = $2, status = $3, due_at = $2, error = null,
              failures = 0, failing_since = null, refusals = 0, given_up = 0,
              endpoint = $4, headers = $5, mime_type = $6, content = $7, heartbeat_seconds = $8,
              timeout_seconds = $9, max_count = $10, ends_at = $11, reason = $12, contact = $13
        where subscription_key = $1 returning ${SUBSCRIPTION_COLUMNS}`,
      [
        ...[row.subscription_key, new Date(nowMs), status],
        ...changeable({ request, headers, nowMs }),
      ],
    );
    await audit(client, owner, 'subscription-change', 200, { status, content: request.content });
    return changed[0] === undefined ? null : toSubscription(changed[0]);
  });
}

/** Forgets it, with its events. False: the client has none of that id. */
export async function deleteSubscription(pool: Pool, owner: OwnedSubscription): Promise<boolean> {
  return inTransaction(pool, async (client) => {
    const { rowCount } = await client.query(
      'delete from subscriptions where client_key = $1 and subscription_id = $2',
      [owner.clientKey, owner.subscriptionId],
    );
    if (rowCount === 0) return false;
    await audit(client, owner, 'subscription-delete', 204);
    return true;
  });
}
