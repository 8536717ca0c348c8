/** The Bundle of type history that tells of events: sent as a notification, and answered to `$events`. */
import { randomUUID } from 'node:crypto';
import type { SubscriptionEvent } from '../../../store/subscription-events.js';
import type { SubscriptionRecord } from '../../../store/subscriptions.js';
import { historyEntry } from '../bundle.js';
import { etagOf } from '../fhir-handler.js';
import { renderShown } from '../render-derived.js';
import { renderInTurns } from '../turns.js';
import { maySee } from '../visibility.js';
import { NOTIFICATION_PROFILE } from './guide.js';
import { renderStatus } from './render-status.js';
import type { StatusFacts } from './render-status.js';

export interface NotificationFacts extends Omit<StatusFacts, 'letters'> {
  readonly nowMs: number;
  readonly baseUrl: string;
}

/** Of these events, those that the scopes let see. */
export function visibleEvents(
  events: readonly SubscriptionEvent[],
  scopes: readonly string[],
): SubscriptionEvent[] {
  return events.filter(({ version }) => maySee(scopes, { type: 'Observation', version }));
}

function eventEntry(
  baseUrl: string,
  isFull: boolean,
  { occasion, version }: SubscriptionEvent,
): string {
  return historyEntry(baseUrl, {
    type: 'Observation',
    id: version.observationId,
    etag: etagOf(version.version),
    sinceMs: version.stampMs,
    first: occasion === 'new',
    ...(isFull ? { resource: renderShown(version) } : {}),
  });
}

/** The Bundle as JSON. Its first entry is the status; with an empty payload there is no other. */
export async function notificationText(
  found: SubscriptionRecord,
  facts: NotificationFacts,
): Promise<string> {
  const { baseUrl, nowMs, content, events } = facts;
  const status = renderStatus(found, { baseUrl, nowMs }, { ...facts, letters: [] });
  const url = `Subscription/${found.subscriptionId}/$status`;
  const first = JSON.stringify({
    fullUrl: `urn:uuid:${status.id}`,
    resource: status,
    request: { method: 'GET', url },
    response: { status: '200' },
  });
  const others =
    content === 'empty'
      ? []
      : await renderInTurns(events, (event) =>
          eventEntry(baseUrl, content === 'full-resource', event),
        );
  const head = JSON.stringify({
    resourceType: 'Bundle',
    id: randomUUID(),
    meta: { profile: [NOTIFICATION_PROFILE] },
    type: 'history',
    timestamp: new Date(nowMs).toISOString(),
  });
  return `${head.slice(0, -1)},"entry":[${[first, ...others].join(',')}]}`;
}
