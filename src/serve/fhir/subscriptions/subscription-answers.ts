/** Subscriptions created, read, changed and deleted by their owners; to everybody else there are none. */
import { randomUUID } from 'node:crypto';
import type { Request } from 'express';
import {
  changeSubscription,
  deleteSubscription,
  findOwnSubscriptions,
  insertSubscription,
} from '../../../store/subscriptions.js';
import type {
  KeptSubscription,
  SubscriptionChange,
  SubscriptionRecord,
  SubscriptionStatus,
} from '../../../store/subscriptions.js';
import { hasNarrowedScope } from '../../auth/scopes.js';
import { pathParameter } from '../../http/route.js';
import type { Caller } from '../../http/route.js';
import { etagOf } from '../fhir-handler.js';
import type { FhirAnswer } from '../fhir-handler.js';
import { checkContentVersion, returnOf } from '../negotiate.js';
import { readBody } from '../read-fhir-body.js';
import { readIfMatch } from '../registration-answers.js';
import { refusal } from '../refuse.js';
import { isId } from '../site.js';
import { readSubscription } from './read-subscription.js';
import type { SentSubscription } from './read-subscription.js';
import { renderSubscription, statusAt } from './render-subscription.js';
import type { SubscriptionContext, SubscriptionServices } from './subscription-services.js';

export const BOUNDS = { ofClient: 20, all: 1_000 };
export const MAX_SUBSCRIPTION_BYTES = 64 * 1024;

function contextOf(services: SubscriptionServices): SubscriptionContext {
  const { baseUrl, siteMs, refusalOf, clock } = services;
  return { baseUrl, siteMs, refusalOf, nowMs: clock() };
}

/** Also of another's: ids must not be told apart. */
function noSubscription(): Error {
  return refusal(404, 'not-found', 'There is no such Subscription.');
}

/** @throws HttpError 404 when the caller has no subscription that the path names */
export async function findOwn(
  { readers }: SubscriptionServices,
  req: Request,
  { clientKey }: Caller,
): Promise<SubscriptionRecord> {
  const id = pathParameter(req, 'id');
  const [found] = isId(id) ? await findOwnSubscriptions(readers, clientKey, id) : [];
  if (found === undefined) throw noSubscription();
  return found;
}

function answer(
  { baseUrl, clock }: SubscriptionServices,
  status: number,
  found: SubscriptionRecord,
  more: { readonly headers?: Readonly<Record<string, string>>; readonly minimal?: boolean } = {},
): FhirAnswer {
  const resource = renderSubscription(found, baseUrl, clock());
  const { version, changedMs: sinceMs } = found;
  // A status often changes within the second of the change before it.
  const replacedSinceMs = version === 1 ? null : sinceMs;
  return {
    status,
    text: more.minimal === true ? null : JSON.stringify(resource),
    version: { etag: etagOf(version), sinceMs, replacedSinceMs },
    ...(more.headers === undefined ? {} : { headers: more.headers }),
  };
}

/** What the owner may not read, nobody is notified of: such a subscription would stay silent. */
function demandReading({ scopes }: Caller): void {
  if (hasNarrowedScope(scopes, 'system/Observation.r')) return;
  const text =
    'A Subscription notifies of Observations: this needs the scope system/Observation.r.';
  throw refusal(403, 'forbidden', text);
}

export async function createSubscription(
  services: SubscriptionServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  demandReading(caller);
  if (req.headers['if-none-exist'] !== undefined) {
    const text = 'A conditional create of a Subscription is not offered.';
    throw refusal(400, 'not-supported', text, 'http.If-None-Exist');
  }
  const sent = readSubscription(readBody(services.intake, req).value, [], contextOf(services));
  if (sent.status === 'off' || sent.status === 'error') {
    const text = 'A new Subscription is requested; the gateway makes it active.';
    throw refusal(422, 'business-rule', text, 'Subscription.status');
  }
  const { clientKey, origin } = caller;
  const owner = { clientKey, origin, subscriptionId: randomUUID() };
  const { request, headers } = sent;
  const given = { request, headers, nowMs: services.clock() };
  const kept = await insertSubscription(services.pool, owner, given, BOUNDS);
  if (kept === 'too-many') {
    const text = `Too many Subscriptions: a client may have ${BOUNDS.ofClient}, all together ${BOUNDS.all}. Delete those that are no longer needed.`;
    throw refusal(422, 'too-costly', text);
  }
  services.onChanged();
  return answer(services, 201, kept, {
    headers: { Location: `${services.baseUrl}/Subscription/${kept.subscriptionId}` },
    minimal: returnOf(req.headers) === 'minimal',
  });
}

export async function readSubscriptionOf(
  services: SubscriptionServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  return answer(services, 200, await findOwn(services, req, caller));
}

/** Whether a change touches where and how notifications are sent, so that the subscriber is asked anew. */
function needsHandshake(kept: KeptSubscription, { request, headers }: SentSubscription): boolean {
  return (
    request.endpoint !== kept.endpoint ||
    request.mimeType !== kept.mimeType ||
    request.content !== kept.content ||
    headers.join('\n') !== kept.headers.join('\n')
  );
}

function nextStatus(
  kept: KeptSubscription,
  sent: SentSubscription,
  nowMs: number,
): SubscriptionStatus {
  if (sent.status === 'off') return 'off';
  if (sent.status === 'error') {
    const text = 'The gateway alone says error; send requested to begin again, or off.';
    throw refusal(422, 'business-rule', text, 'Subscription.status');
  }
  const goesOn = sent.status === 'active' && statusAt(kept, nowMs) === 'active';
  return goesOn && !needsHandshake(kept, sent) ? 'active' : 'requested';
}

/** Numbers once given belong to what was asked for: something else is another subscription. */
function demandSameEvents(kept: KeptSubscription, { request }: SentSubscription): void {
  if (request.topic === kept.topic && request.filters.join('\n') === kept.filters.join('\n'))
    return;
  const text =
    'Topic and filters of a Subscription stay as they are, because its events are numbered; create another.';
  throw refusal(422, 'business-rule', text, 'Subscription.criteria');
}

export async function updateSubscription(
  services: SubscriptionServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  demandReading(caller);
  const { subscriptionId, clientKey } = await findOwn(services, req, caller);
  const body = readBody(services.intake, req).value;
  if (body.id !== subscriptionId) {
    throw refusal(400, 'value', 'The id must be that of the address.', 'Subscription.id');
  }
  const expectedVersion = readIfMatch(req.headers['if-match']);
  const context = contextOf(services);
  const change = (kept: KeptSubscription): SubscriptionChange => {
    if (expectedVersion !== null && expectedVersion !== kept.version) {
      const text = 'The Subscription has not the version that If-Match names.';
      throw refusal(412, 'conflict', text);
    }
    const sent = readSubscription(body, kept.headers, context);
    demandSameEvents(kept, sent);
    const { request, headers } = sent;
    return { request, headers, status: nextStatus(kept, sent, context.nowMs) };
  };
  const owner = { clientKey, subscriptionId, origin: caller.origin };
  const changed = await changeSubscription(services.pool, owner, context.nowMs, change);
  if (changed === null) throw noSubscription();
  services.onChanged();
  return answer(services, 200, changed, { minimal: returnOf(req.headers) === 'minimal' });
}

export async function removeSubscription(
  services: SubscriptionServices,
  req: Request,
  { clientKey, origin }: Caller,
): Promise<FhirAnswer> {
  const subscriptionId = pathParameter(req, 'id');
  const owner = { clientKey, subscriptionId, origin };
  if (!isId(subscriptionId) || !(await deleteSubscription(services.pool, owner))) {
    throw noSubscription();
  }
  return { status: 204, text: null };
}
