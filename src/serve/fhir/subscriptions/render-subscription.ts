import type { Extension, Subscription } from 'fhir/r4.js';
import type { SubscriptionRecord, SubscriptionStatus } from '../../../store/subscriptions.js';
import { CONTENT, FILTER, HEARTBEAT, MAX_COUNT, SUBSCRIPTION_PROFILE, TIMEOUT } from './guide.js';
import { withheld } from './headers.js';
import { topicUrl } from './topics.js';

/** A subscription whose end has passed is off, whether or not anybody has noted it. */
export function statusAt(
  { status, endsMs }: Pick<SubscriptionRecord, 'status' | 'endsMs'>,
  nowMs: number,
): SubscriptionStatus {
  return endsMs !== null && endsMs <= nowMs ? 'off' : status;
}

function channelExtensions(found: SubscriptionRecord): Extension[] {
  const { heartbeatSeconds, timeoutSeconds, maxCount } = found;
  return [
    ...(heartbeatSeconds === null ? [] : [{ url: HEARTBEAT, valueUnsignedInt: heartbeatSeconds }]),
    ...(timeoutSeconds === null ? [] : [{ url: TIMEOUT, valueUnsignedInt: timeoutSeconds }]),
    ...(maxCount === null ? [] : [{ url: MAX_COUNT, valuePositiveInt: maxCount }]),
  ];
}

/** As its owner reads it: of the headers the names alone. */
export function renderSubscription(
  found: SubscriptionRecord,
  baseUrl: string,
  nowMs: number,
): Subscription {
  const { filters, contact, endsMs, error, headerNames } = found;
  const extension = channelExtensions(found);
  const status = statusAt(found, nowMs);
  // What goes wrong and may come right again is told by $status: it makes no version of the resource.
  const hasFailed = status === 'error' || status === 'off';
  return {
    resourceType: 'Subscription',
    id: found.subscriptionId,
    meta: {
      versionId: String(found.version),
      lastUpdated: new Date(found.changedMs).toISOString(),
      profile: [SUBSCRIPTION_PROFILE],
    },
    status,
    ...(contact === null ? {} : { contact: contact as Subscription['contact'] }),
    ...(endsMs === null ? {} : { end: new Date(endsMs).toISOString() }),
    reason: found.reason,
    criteria: topicUrl(baseUrl, found.topic),
    ...(filters.length === 0
      ? {}
      : { _criteria: { extension: filters.map((valueString) => ({ url: FILTER, valueString })) } }),
    ...(error === null || !hasFailed ? {} : { error }),
    channel: {
      ...(extension.length === 0 ? {} : { extension }),
      type: 'rest-hook',
      endpoint: found.endpoint,
      payload: found.mimeType,
      _payload: { extension: [{ url: CONTENT, valueCode: found.content }] },
      ...(headerNames.length === 0 ? {} : { header: withheld(headerNames) }),
    },
  };
}
