/**
 * The work on subscriptions as it is kept: who is at it, and what has come of each notification. Whatever
 * is written down demands the lease, and the version that it was done for: what its owner has changed
 * meanwhile stands.
 */
import type { Pool } from 'pg';
import { insertAudit } from './audit.js';
import type { AuditEntry } from './audit.js';
import { SUBSCRIPTION_COLUMNS, toSubscription } from './subscriptions.js';
import type { SubscriptionRecord, SubscriptionRow, SubscriptionStatus } from './subscriptions.js';
import { inTransaction } from './transaction.js';

/** Up to where versions have been looked at. Without a reading: all of the stamp. */
export interface EventCursor {
  readonly stampMs: number;
  readonly reading: { readonly id: string; readonly version: number } | null;
}

/** A subscription as it stands at the beginning of a round of work. */
export interface SubscriptionWork extends SubscriptionRecord {
  /** Lines `Name: value`. For sending; never for a log or an answer. */
  readonly headers: readonly string[];
  readonly cursor: EventCursor;
  /** Stamp of the last commit. */
  readonly lastStampMs: number;
  /** What the owner's client may do now; null: it has no access. */
  readonly scopes: readonly string[] | null;
}

/** Who takes a subscription, and how long it may be kept without a sign of life. */
export interface WorkLease {
  /** Of this taking alone: the same process may take it again. */
  readonly holder: string;
  readonly nowMs: number;
  /** How long a notification may take where its owner has not said so. */
  readonly timeoutMs: number;
  /** What is added to that. */
  readonly slackMs: number;
}

/** From three parameters: now, the usual time-out and the slack, both in ms. */
function leasedUntil(now: string, timeout: string, slack: string): string {
  return `${now}::timestamptz + (coalesce(timeout_seconds * 1000, ${timeout}::integer) + ${slack}::integer) * interval '1 millisecond'`;
}

/** So many events may wait; versions that come after them are looked at when there is room again. */
export const MOST_WAITING = 50_000;

const OPEN_CLIENT = (now: string): string =>
  `c.disabled_at is null and (c.ends_at is null or c.ends_at > ${now}) and o.disabled_at is null`;

/** A subscription that was taken to be worked on. */
export interface ClaimedSubscription {
  readonly subscriptionKey: number;
  /** Its subscriber has not answered yet, or has not taken what was sent last: it may hang. */
  readonly doubtful: boolean;
}

/**
 * Takes the subscription that has waited longest among those with something to do; null: there is none.
 * Of clients without access none is taken.
 * @param doubtfulToo also one whose subscriber may hang
 */
export async function claimSubscription(
  pool: Pool,
  lease: WorkLease,
  doubtfulToo: boolean,
): Promise<ClaimedSubscription | null> {
  const { rows } = await pool.query<{ subscription_key: number; doubtful: boolean }>({
    name: 'claim-subscription',
    text: `update subscriptions
              set lease = $1, leased_until = ${leasedUntil('$2', '$4', '$5')}, worked_at = $2
            where subscription_key = (
              select s.subscription_key
                from subscriptions s join clients c using (client_key) join sources o using (source_key),
                     publication_clock p
               where s.status <> 'off' and ($6 or (s.failures = 0 and s.status <> 'requested')) and s.due_at <= $2 and (s.leased_until is null or s.leased_until <= $2)
                 and ${OPEN_CLIENT('$2')}
                 and (s.ends_at <= $2 or s.status = 'requested'
                      or (s.cursor_stamp < p.last_stamp and s.events - s.settled < $3)
                      or (s.status = 'active'
                          and (s.events > s.settled
                               or s.last_sent_at + s.heartbeat_seconds * interval '1 second' <= $2)))
               order by s.worked_at limit 1 for update of s skip locked)
           returning subscription_key, failures > 0 or status = 'requested' as doubtful`,
    values: [
      lease.holder,
      new Date(lease.nowMs),
      MOST_WAITING,
      lease.timeoutMs,
      lease.slackMs,
      doubtfulToo,
    ],
  });
  const [row] = rows;
  return row === undefined
    ? null
    : { subscriptionKey: row.subscription_key, doubtful: row.doubtful };
}

interface WorkRow extends SubscriptionRow {
  headers: string[];
  cursor_ms: number;
  cursor_reading: string | null;
  cursor_version: number | null;
  last_ms: number;
  scopes: string[];
  open: boolean;
}

/** Keeps the lease, and tells how things stand. Null: it is gone, or another process has it. */
export async function beginRound(
  pool: Pool,
  subscriptionKey: number,
  lease: WorkLease,
): Promise<SubscriptionWork | null> {
  const { rows } = await pool.query<WorkRow>({
    name: 'begin-subscription-round',
    text: `update subscriptions s set leased_until = ${leasedUntil('$3', '$4', '$5')}
             from clients c join sources o using (source_key), publication_clock p
            where s.subscription_key = $1 and s.lease = $2 and c.client_key = s.client_key
           returning ${SUBSCRIPTION_COLUMNS}, s.headers, s.cursor_reading, s.cursor_version, c.scopes,
                     (extract(epoch from s.cursor_stamp) * 1000)::bigint as cursor_ms,
                     (extract(epoch from p.last_stamp) * 1000)::bigint as last_ms,
                     ${OPEN_CLIENT('$3')} as open`,
    values: [subscriptionKey, lease.holder, new Date(lease.nowMs), lease.timeoutMs, lease.slackMs],
  });
  const [row] = rows;
  if (row === undefined) return null;
  const { cursor_reading: id, cursor_version: version } = row;
  return {
    ...toSubscription(row),
    headers: row.headers,
    cursor: {
      stampMs: row.cursor_ms,
      reading: id === null || version === null ? null : { id, version },
    },
    lastStampMs: row.last_ms,
    scopes: row.open ? row.scopes : null,
  };
}

/** Who has done the work, and for which version. */
export interface WorkDone {
  readonly subscriptionKey: number;
  readonly version: number;
  readonly holder: string;
  readonly nowMs: number;
}

/**
 * The subscriber has taken a notification; up to `settled` it has now everything. The entries of the
 * audit trail stand even if the owner has changed the subscription meanwhile: it was sent.
 */
export async function noteTaken(
  pool: Pool,
  { subscriptionKey, version, holder, nowMs }: WorkDone,
  settled: number,
  audit: readonly AuditEntry[],
): Promise<void> {
  await inTransaction(pool, async (client) => {
    await client.query({
      name: 'note-notification-taken',
      text: `update subscriptions
                set settled = $5, last_sent_at = $4, failures = 0, failing_since = null,
                    refusals = greatest(refusals - 1, 0), given_up = 0, error = null
              where subscription_key = $1 and version = $2 and lease = $3`,
      values: [subscriptionKey, version, holder, new Date(nowMs), settled],
    });
    if (audit.length > 0) await insertAudit(client, audit);
  });
}

/** Nobody is to be told of the events up to `settled`. */
export async function notePassed(
  pool: Pool,
  { subscriptionKey, version, holder }: WorkDone,
  settled: number,
): Promise<void> {
  await pool.query(
    `update subscriptions set settled = $4
      where subscription_key = $1 and version = $2 and lease = $3`,
    [subscriptionKey, version, holder, settled],
  );
}

/** What kept the work from being done is over. */
export async function clearError(
  pool: Pool,
  subscriptionKey: number,
  holder: string,
  error: string,
): Promise<void> {
  await pool.query(
    'update subscriptions set error = null where subscription_key = $1 and lease = $2 and error = $3',
    [subscriptionKey, holder, error],
  );
}

/** A notification was not taken. */
export interface Failure {
  /** Words for the owner. */
  readonly error: string;
  readonly dueMs: number;
  /** The subscriber answered that it does not want this very notification. */
  readonly refused: boolean;
}

/** Counts a failure, and gives the subscription back until it is due again. */
export async function noteFailure(
  pool: Pool,
  { subscriptionKey, version, holder, nowMs }: WorkDone,
  { error, dueMs, refused }: Failure,
): Promise<void> {
  await pool.query(
    `update subscriptions
        set failures = failures + 1, failing_since = coalesce(failing_since, $4), error = $5,
            refusals = case when $7 then refusals + 1 else refusals end, due_at = $6, leased_until = null
      where subscription_key = $1 and version = $2 and lease = $3`,
    [subscriptionKey, version, holder, new Date(nowMs), error, new Date(dueMs), refused],
  );
}

/** Puts one event aside that was refused again and again; the next one is due. */
export async function giveUpEvent(
  pool: Pool,
  { subscriptionKey, version, holder, nowMs }: WorkDone,
  letter: { readonly eventNumber: number; readonly attempts: number; readonly reason: string },
): Promise<void> {
  await pool.query(
    `with aside as (
       update subscriptions
          set settled = $5, refusals = 0, failures = 0, failing_since = null, given_up = given_up + 1,
              due_at = $4, error = $7
        where subscription_key = $1 and version = $2 and lease = $3 returning subscription_key)
     insert into subscription_dead_letters (subscription_key, event_number, given_up_at, attempts, reason)
     select subscription_key, $5, $4, $6, $7 from aside on conflict do nothing`,
    [
      ...[subscriptionKey, version, holder, new Date(nowMs)],
      ...[letter.eventNumber, letter.attempts, letter.reason],
    ],
  );
}

/** The subscription gets another status, and nobody works on it for now. */
export async function setStatus(
  pool: Pool,
  { subscriptionKey, version, holder, nowMs }: WorkDone,
  status: SubscriptionStatus,
  error: string | null,
): Promise<void> {
  await pool.query(
    `update subscriptions
        set status = $5, error = $6, version = version + 1, changed_at = $4, due_at = $4, leased_until = null,
            last_sent_at = case when $5 = 'active' then $4 else last_sent_at end
      where subscription_key = $1 and version = $2 and lease = $3`,
    [subscriptionKey, version, holder, new Date(nowMs), status, error],
  );
}

/** Gives the subscription back: nothing to do now, or not before `dueMs`. */
export async function releaseSubscription(
  pool: Pool,
  subscriptionKey: number,
  holder: string,
  pause: { readonly dueMs: number; readonly error: string } | null = null,
): Promise<void> {
  await pool.query(
    `update subscriptions
        set leased_until = null, due_at = coalesce($3, due_at), error = coalesce($4, error)
      where subscription_key = $1 and lease = $2`,
    [
      subscriptionKey,
      holder,
      pause === null ? null : new Date(pause.dueMs),
      pause === null ? null : pause.error,
    ],
  );
}
