/**
 * One round of work on one subscription: count the events since the last look, or send one notification.
 * What is next follows from what the database says at the beginning of the round, so that a process may be
 * killed anywhere: a notification that was sent and not noted is sent again.
 */
import type { FetchOutside } from '../outside/fetch-outside.js';
import { hasNarrowedScope, hasScope } from '../serve/auth/scopes.js';
import { readFilterCriteria } from '../serve/fhir/subscriptions/filters.js';
import { notificationText, visibleEvents } from '../serve/fhir/subscriptions/notification.js';
import { topicNamed } from '../serve/fhir/subscriptions/topics.js';
import type { CountNotification } from '../serve/operations/subscription-metrics.js';
import type { SearchContext } from '../serve/fhir/search-parameter.js';
import { visibleOnly } from '../serve/fhir/visibility.js';
import type { AuditEntry } from '../store/audit.js';
import type { Pool } from '../store/pool.js';
import { countEvents, listEvents } from '../store/subscription-events.js';
import type { SubscriptionEvent } from '../store/subscription-events.js';
import {
  MOST_WAITING,
  clearError,
  notePassed,
  noteTaken,
  releaseSubscription,
  setStatus,
} from '../store/subscription-work.js';
import type { SubscriptionWork, WorkDone } from '../store/subscription-work.js';
import { noteUnsent } from './note-unsent.js';
import { send } from './send.js';

export interface RoundServices extends Pick<SearchContext, 'siteMs' | 'baseUrl'> {
  readonly pool: Pool;
  readonly clock: () => number;
  readonly fetch: FetchOutside;
  readonly countNotification: CountNotification;
  /** Ends what is being sent because the process is to stop. */
  readonly signal: AbortSignal;
  readonly random: () => number;
}

/** Of one notification, unless its subscriber asks for fewer. */
const EVENTS_AT_ONCE = 50;
/** A client that may not read Observations now is looked at again after this. */
const NO_ACCESS_MS = 30_000;
const NO_SCOPE =
  'Its client has not the scopes system/Subscription.c and system/Observation.r now; nothing is sent meanwhile.';

/** `on`: there may be more to do at once. `off`: given back, or to be given back. */
export type RoundEnd = 'on' | 'off';

export async function workRound(
  services: RoundServices,
  work: SubscriptionWork,
  holder: string,
): Promise<RoundEnd> {
  const { pool, clock } = services;
  const { subscriptionKey, version, scopes } = work;
  const nowMs = clock();
  const done = { subscriptionKey, version, holder, nowMs };
  if (work.endsMs !== null && work.endsMs <= nowMs) {
    await setStatus(pool, done, 'off', 'Its end has passed.');
    return 'off';
  }
  // A standing order holds as long as its owner might give it again.
  if (scopes === null || !maySubscribe(scopes)) {
    const pause = { dueMs: nowMs + NO_ACCESS_MS, error: NO_SCOPE };
    await releaseSubscription(pool, subscriptionKey, holder, scopes === null ? null : pause);
    return 'off';
  }
  if (work.error === NO_SCOPE) await clearError(pool, subscriptionKey, holder, NO_SCOPE);
  if (work.status === 'requested') return shakeHands(services, work, done);
  const isBehind = work.cursor.stampMs < work.lastStampMs;
  if (isBehind && work.events - work.settled < MOST_WAITING) {
    return (await count(services, work, done, scopes)) ? 'on' : 'off';
  }
  if (work.status !== 'active') return 'off';
  if (work.events > work.settled) return sendEvents(services, work, done, scopes);
  return beat(services, work, done);
}

function maySubscribe(scopes: readonly string[]): boolean {
  return (
    hasScope(scopes, 'system/Subscription.c') && hasNarrowedScope(scopes, 'system/Observation.r')
  );
}

/** Numbers what has been published since, as far as the owner may read it now. */
async function count(
  { pool, siteMs, baseUrl }: RoundServices,
  work: SubscriptionWork,
  { holder }: WorkDone,
  scopes: readonly string[],
): Promise<boolean> {
  const { cursor, lastStampMs: asOfMs, subscriptionKey, events } = work;
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const conditions = work.filters.flatMap((filter) => readFilterCriteria(filter, context));
  return countEvents(
    pool,
    { subscriptionKey, holder, events },
    {
      ...{ cursor, asOfMs, occasions: topicNamed(work.topic).occasions },
      conditions: [...conditions, ...visibleOnly(scopes, 'r')],
    },
  );
}

async function shakeHands(
  services: RoundServices,
  work: SubscriptionWork,
  done: WorkDone,
): Promise<RoundEnd> {
  const { pool, countNotification } = services;
  const sent = await notify(services, work, done, 'handshake', []);
  countNotification('handshake', sent.kind);
  if (sent.kind === 'taken') {
    await setStatus(pool, done, 'active', null);
    return 'off';
  }
  if (services.signal.aborted) return 'off';
  // The guide: any error in the handshake makes it an error; its owner asks again.
  await setStatus(pool, done, 'error', `The handshake failed. ${sent.error}`);
  return 'off';
}

async function sendEvents(
  services: RoundServices,
  work: SubscriptionWork,
  done: WorkDone,
  scopes: readonly string[],
): Promise<RoundEnd> {
  const { pool, countNotification } = services;
  const { subscriptionKey, settled, refusals } = work;
  const most = Math.min(work.maxCount ?? EVENTS_AT_ONCE, work.events - settled);
  // After refusals fewer, in the end one alone: the odd one must not keep the others back.
  const limit = Math.max(1, Math.floor(most / 4 ** refusals));
  const range = { from: settled + 1, to: work.events, limit };
  const listed = await listEvents(pool, subscriptionKey, range);
  const last = listed.at(-1)?.eventNumber ?? work.events;
  const events = visibleEvents(listed, scopes);
  if (events.length === 0) {
    // Counted when the owner could read it; now nobody may be told.
    await notePassed(pool, done, last);
    return 'on';
  }
  const sent = await notify(services, work, done, 'event-notification', events);
  if (sent.kind === 'taken') {
    countNotification('event-notification', 'taken');
    await noteTaken(pool, { ...done, nowMs: services.clock() }, last, auditOf(work, events));
    return 'on';
  }
  if (services.signal.aborted) return 'off';
  countNotification('event-notification', sent.kind);
  return noteUnsent(services, work, done, sent, events.length === 1 ? last : null);
}

async function beat(
  services: RoundServices,
  work: SubscriptionWork,
  done: WorkDone,
): Promise<RoundEnd> {
  const { heartbeatSeconds, lastSentMs } = work;
  const dueMs = (lastSentMs ?? 0) + (heartbeatSeconds ?? 0) * 1_000;
  if (heartbeatSeconds === null || dueMs > done.nowMs) return 'off';
  const sent = await notify(services, work, done, 'heartbeat', []);
  if (sent.kind !== 'taken' && services.signal.aborted) return 'off';
  services.countNotification('heartbeat', sent.kind);
  if (sent.kind !== 'taken') return noteUnsent(services, work, done, sent, null);
  await noteTaken(services.pool, { ...done, nowMs: services.clock() }, work.settled, []);
  return 'off';
}

async function notify(
  { baseUrl, fetch, signal }: RoundServices,
  work: SubscriptionWork,
  { nowMs }: WorkDone,
  type: 'handshake' | 'heartbeat' | 'event-notification',
  events: readonly SubscriptionEvent[],
) {
  const count = events.at(-1)?.eventNumber ?? work.events;
  const { content } = work;
  // What had failed is over when this arrives.
  const text = await notificationText(
    { ...work, error: null },
    { type, content, count, events, nowMs, baseUrl },
  );
  return send(fetch, work, text, { nowMs, signal });
}

/** That resources were named to the subscriber: an entry for each patient whose they are. */
function auditOf(
  { content, clientKey, subscriptionId }: SubscriptionWork,
  events: readonly SubscriptionEvent[],
): AuditEntry[] {
  if (content === 'empty') return [];
  const patients = new Set(events.map(({ patientKey }) => patientKey));
  const detail = { content, first: events[0]?.eventNumber, last: events.at(-1)?.eventNumber };
  return [...patients].map((patientKey) => ({
    ...{ clientKey, patientKey, action: 'subscription-notified', outcome: 200, detail },
    entity: `Subscription/${subscriptionId}`,
  }));
}
