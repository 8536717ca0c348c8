/** How a subscription stands, and which events a Bundle tells of: Parameters, as the guide has it for R4. */
import { randomUUID } from 'node:crypto';
import type { Parameters, ParametersParameter } from 'fhir/r4.js';
import type { DeadLetter, SubscriptionEvent } from '../../../store/subscription-events.js';
import type { NotificationContent, SubscriptionRecord } from '../../../store/subscriptions.js';
import { STATUS_PROFILE } from './guide.js';
import { statusAt } from './render-subscription.js';
import { topicUrl } from './topics.js';

export type NotificationType =
  'handshake' | 'heartbeat' | 'event-notification' | 'query-status' | 'query-event';

export interface StatusFacts {
  readonly type: NotificationType;
  readonly content: NotificationContent;
  /** How many events there have been, these included. */
  readonly count: number;
  readonly events: readonly SubscriptionEvent[];
  readonly letters: readonly DeadLetter[];
}

function eventPart(
  baseUrl: string,
  content: NotificationContent,
  { eventNumber, version }: SubscriptionEvent,
): ParametersParameter {
  const reference = `${baseUrl}/Observation/${version.observationId}`;
  return {
    name: 'notification-event',
    part: [
      { name: 'event-number', valueString: String(eventNumber) },
      { name: 'timestamp', valueInstant: new Date(version.stampMs).toISOString() },
      ...(content === 'empty' ? [] : [{ name: 'focus', valueReference: { reference } }]),
    ],
  };
}

function errorPart(text: string): ParametersParameter {
  return { name: 'error', valueCodeableConcept: { text } };
}

function letterWords({ eventNumber, attempts, reason }: DeadLetter): string {
  return `Event ${eventNumber} was given up after ${attempts} attempts: ${reason}`;
}

export function renderStatus(
  found: SubscriptionRecord,
  { baseUrl, nowMs }: { readonly baseUrl: string; readonly nowMs: number },
  { type, content, count, events, letters }: StatusFacts,
): Parameters & { readonly id: string } {
  const reference = `${baseUrl}/Subscription/${found.subscriptionId}`;
  return {
    resourceType: 'Parameters',
    id: randomUUID(),
    meta: { profile: [STATUS_PROFILE] },
    parameter: [
      { name: 'subscription', valueReference: { reference } },
      // The guide: not with an empty payload, which is to give nothing away.
      ...(content === 'empty' && type !== 'query-status'
        ? []
        : [{ name: 'topic', valueCanonical: topicUrl(baseUrl, found.topic) }]),
      { name: 'status', valueCode: statusAt(found, nowMs) },
      { name: 'type', valueCode: type },
      { name: 'events-since-subscription-start', valueString: String(count) },
      ...events.map((event) => eventPart(baseUrl, content, event)),
      ...(found.error === null ? [] : [errorPart(found.error)]),
      ...letters.map((letter) => errorPart(letterWords(letter))),
    ],
  };
}
