/** Searching one's own subscriptions. There are few of a client: all are read, and the search is done here. */
import type { Request } from 'express';
import { findOwnSubscriptions } from '../../../store/subscriptions.js';
import type { SubscriptionRecord } from '../../../store/subscriptions.js';
import type { Caller } from '../../http/route.js';
import { matchEntry, outcomeEntry } from '../bundle.js';
import type { FhirAnswer } from '../fhir-handler.js';
import { handlingOf } from '../negotiate.js';
import { passedOver } from '../passed-over.js';
import { parseSearch } from '../parse-search.js';
import type { Pair } from '../query-parameters.js';
import { badValue } from '../refuse.js';
import { answerPage } from '../search.js';
import { DEFINITIONS, knownIds } from '../search-parameter.js';
import type { SearchParameter } from '../search-parameter.js';
import { isId } from '../site.js';
import { matchesToken, readPlain, readToken } from '../token-values.js';
import { renderSubscription, statusAt } from './render-subscription.js';
import type { SubscriptionServices } from './subscription-services.js';
import { topicUrl } from './topics.js';

type Condition = (found: SubscriptionRecord, nowMs: number, baseUrl: string) => boolean;

const STATUS_SYSTEM = 'http://hl7.org/fhir/subscription-status';

export const SUBSCRIPTION_PARAMETERS: readonly SearchParameter<Condition>[] = [
  {
    name: 'url',
    type: 'uri',
    definition: `${DEFINITIONS}Subscription-url`,
    documentation: 'The endpoint that is notified.',
    condition: (values) => {
      const urls = values.map(readPlain);
      return ({ endpoint }) => urls.includes(endpoint);
    },
  },
  {
    name: 'status',
    type: 'token',
    definition: `${DEFINITIONS}Subscription-status`,
    documentation: 'requested, active, error or off.',
    condition: (values) => {
      const tokens = values.map(readToken);
      return (found, nowMs) =>
        tokens.some((token) =>
          matchesToken(token, { system: STATUS_SYSTEM, code: statusAt(found, nowMs) }),
        );
    },
  },
  {
    name: 'criteria',
    type: 'string',
    definition: `${DEFINITIONS}Subscription-criteria`,
    documentation: 'The canonical of the topic, from its beginning.',
    condition: (values) => {
      const texts = values.map((value) => readPlain(value).toLowerCase());
      return ({ topic }, _nowMs, baseUrl) =>
        texts.some((text) => topicUrl(baseUrl, topic).toLowerCase().startsWith(text));
    },
  },
  {
    name: '_id',
    type: 'token',
    definition: `${DEFINITIONS}Resource-id`,
    documentation: 'Logical ids.',
    condition: (values) => {
      const ids = knownIds(values);
      return ({ subscriptionId }) => ids.includes(subscriptionId);
    },
  },
];

export async function searchSubscriptions(
  services: SubscriptionServices,
  pairs: readonly Pair[],
  req: Request,
  { clientKey }: Caller,
): Promise<FhirAnswer> {
  const { readers, baseUrl, siteMs, clock } = services;
  const nowMs = clock();
  const context = { siteMs, baseUrl, nowMs };
  const search = parseSearch(pairs, SUBSCRIPTION_PARAMETERS, handlingOf(req.headers), context);
  if (search.sort !== null) throw badValue('_sort', 'is not offered here');
  const own = await findOwnSubscriptions(readers, clientKey);
  const found = own.filter((one) => search.conditions.every((each) => each(one, nowMs, baseUrl)));
  const { ignored } = search;
  const answer = await answerPage<SubscriptionRecord>({
    type: 'searchset',
    path: `${baseUrl}/Subscription`,
    search,
    asOfMs: 0,
    isId,
    fetch: (after, limit) =>
      Promise.resolve(
        found
          .filter(({ subscriptionKey }) => after === null || subscriptionKey > after.keyMs)
          .slice(0, limit),
      ),
    count: () => Promise.resolve(found.length),
    entryOf: (one) =>
      matchEntry(
        `${baseUrl}/Subscription/${one.subscriptionId}`,
        renderSubscription(one, baseUrl, nowMs),
      ),
    placeOf: ({ subscriptionKey, subscriptionId: id }) => ({
      keyMs: subscriptionKey,
      id,
      version: 0,
    }),
    extraEntries: () => {
      const [first, ...more] = ignored.map(passedOver);
      return Promise.resolve(first === undefined ? [] : [outcomeEntry([first, ...more])]);
    },
  });
  // An endpoint may hold what only its owner is to know.
  const query = pairs.map(([name, value]): Pair => [
    name,
    name === 'url' ? '(an endpoint)' : value,
  ]);
  return { ...answer, looked: { query } };
}
