import type { ParameterSpec, ResponseSpec, Route } from '../../http/route.js';
import type { Caller } from '../../http/route.js';
import { fhirHandler } from '../fhir-handler.js';
import {
  CONDITIONAL,
  FORM,
  HANDLING,
  NOT_MODIFIED,
  PAGING,
  REFUSALS,
  fhirBody,
  fhirResponse,
  formBody,
  asQuery,
} from '../route-kinds.js';
import { MAX_EVENTS, eventsOfOne, statusOfMany, statusOfOne } from './operations.js';
import { MIME_TYPES } from './read-channel.js';
import {
  MAX_SUBSCRIPTION_BYTES,
  createSubscription,
  readSubscriptionOf,
  removeSubscription,
  updateSubscription,
} from './subscription-answers.js';
import { SUBSCRIPTION_PARAMETERS, searchSubscriptions } from './subscription-search.js';
import type { SubscriptionServices } from './subscription-services.js';
import { TOPICS } from './topics.js';

const ALL = '/fhir/Subscription';
const ONE = `${ALL}/:id`;
const MAX_PARAMETERS_BYTES = 16 * 1024;
const ID: ParameterSpec = { name: 'id', in: 'path', description: 'Logical id' };
const GONE = { 404: fhirResponse('This client has no such Subscription') };
const NOT_TAKEN: ResponseSpec = fhirResponse(
  'Topic, filter, channel, endpoint, payload or status is not one that is offered: each is named',
);
const PREFER: ParameterSpec = {
  name: 'Prefer',
  in: 'header',
  description: 'return=minimal or return=representation',
};
const DESCRIPTION = `Topic-based, after HL7's Subscriptions R5 Backport guide for R4: criteria is the canonical of a topic (${TOPICS.map(({ name }) => name).join(', ')}), its extensions are filters, and notifications are Bundles posted to the endpoint as ${MIME_TYPES[0] ?? ''}. The endpoint must be https and of a host that the site allows. Values of channel.header are never given back; sent back as they are shown, they stay.`;

function writingRoutes(services: SubscriptionServices): Route[] {
  return [
    {
      method: 'post',
      path: ALL,
      scopes: ['system/Subscription.c'],
      summary: 'Requests a Subscription',
      description: DESCRIPTION,
      parameters: [PREFER, ...FORM],
      body: fhirBody(MAX_SUBSCRIPTION_BYTES),
      audit: { action: 'subscription-add', entity: 'Subscription', by: 'act' },
      responses: {
        201: fhirResponse('Kept, as requested; active once the endpoint has taken the handshake'),
        422: NOT_TAKEN,
        ...REFUSALS,
      },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        createSubscription(services, req, caller),
      ),
    },
    {
      method: 'put',
      path: ONE,
      scopes: ['system/Subscription.u'],
      summary: 'Changes a Subscription: requested begins again after an error, off ends it',
      parameters: [
        ID,
        { name: 'If-Match', in: 'header', description: 'The version that is to be changed' },
        PREFER,
        ...FORM,
      ],
      body: fhirBody(MAX_SUBSCRIPTION_BYTES),
      audit: { action: 'subscription-change', entity: 'Subscription/:id', by: 'act' },
      responses: {
        200: fhirResponse('The Subscription as it is now'),
        412: fhirResponse('Another version than If-Match names'),
        422: NOT_TAKEN,
        ...GONE,
        ...REFUSALS,
      },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        updateSubscription(services, req, caller),
      ),
    },
    {
      method: 'delete',
      path: ONE,
      scopes: ['system/Subscription.d'],
      summary: 'Deletes a Subscription, with its events',
      parameters: [ID, ...FORM],
      audit: { action: 'subscription-delete', entity: 'Subscription/:id', by: 'act' },
      responses: { 204: { description: 'Deleted' }, ...GONE, ...REFUSALS },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        removeSubscription(services, req, caller),
      ),
    },
  ];
}

function readingRoutes(services: SubscriptionServices): Route[] {
  const facts = {
    scopes: ['system/Subscription.s'] as const,
    parameters: [...SUBSCRIPTION_PARAMETERS.map(asQuery), ...PAGING, ...FORM, HANDLING],
    responses: { 200: fhirResponse('A Bundle of type searchset'), ...REFUSALS },
    audit: { action: 'fhir-search', entity: 'Subscription' },
    handler: fhirHandler((pairs, req, caller: Caller) =>
      searchSubscriptions(services, pairs, req, caller),
    ),
  };
  return [
    { method: 'get', path: ALL, summary: 'Searches own Subscriptions', ...facts },
    {
      method: 'post',
      path: `${ALL}/_search`,
      summary: 'Searches own Subscriptions by a form',
      body: formBody(),
      ...facts,
    },
    {
      method: 'get',
      path: ONE,
      scopes: ['system/Subscription.r'],
      summary: 'An own Subscription',
      audit: { action: 'fhir-read', entity: 'Subscription/:id' },
      parameters: [ID, ...FORM, ...CONDITIONAL],
      responses: {
        200: fhirResponse('The Subscription; of its headers the names alone'),
        ...NOT_MODIFIED,
        ...GONE,
        ...REFUSALS,
      },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        readSubscriptionOf(services, req, caller),
      ),
    },
  ];
}

interface Operation {
  readonly path: string;
  readonly scope: 'system/Subscription.r' | 'system/Subscription.s';
  readonly summary: string;
  readonly own: readonly ParameterSpec[];
  readonly answer: typeof statusOfOne;
}

const QUERY = (name: string, description: string): ParameterSpec => ({
  ...{ name, in: 'query', description, repeats: true },
});

const STATUS_PARAMETERS = [
  QUERY('id', 'Ids of Subscriptions'),
  QUERY('status', 'Statuses to filter by'),
];

const OPERATIONS: readonly Operation[] = [
  {
    path: `${ALL}/$status`,
    scope: 'system/Subscription.s',
    summary: 'How own Subscriptions stand (operation status)',
    own: STATUS_PARAMETERS,
    answer: statusOfMany,
  },
  {
    path: `${ONE}/$status`,
    scope: 'system/Subscription.r',
    summary: 'How a Subscription stands (operation status)',
    own: STATUS_PARAMETERS,
    answer: statusOfOne,
  },
  {
    path: `${ONE}/$events`,
    scope: 'system/Subscription.r',
    summary: `Events once more, by number, at most ${MAX_EVENTS} (operation events)`,
    own: [
      QUERY('eventsSinceNumber', 'From this number on, inclusive'),
      QUERY('eventsUntilNumber', 'Up to this number, inclusive'),
      QUERY('content', 'empty, id-only or full-resource; else as the Subscription has it'),
    ],
    answer: eventsOfOne,
  },
];

/** Each operation by GET, and by POST with a Parameters resource. */
function operationRoutes(services: SubscriptionServices): Route[] {
  return OPERATIONS.flatMap(({ path, scope, summary, own, answer }): Route[] => {
    const ofOne = path.startsWith(`${ONE}/`);
    const facts = {
      path,
      scopes: [scope] as const,
      summary,
      responses: { 200: fhirResponse('A Bundle'), ...(ofOne ? GONE : {}), ...REFUSALS },
      audit: {
        action: path.endsWith('$events') ? 'subscription-events' : 'subscription-status',
        entity: ofOne ? 'Subscription/:id' : 'Subscription',
      },
      handler: fhirHandler((_pairs, req, caller: Caller) => answer(services, req, caller)),
    };
    const ids = ofOne ? [ID] : [];
    return [
      { method: 'get', ...facts, parameters: [...ids, ...own, ...FORM] },
      {
        method: 'post',
        ...facts,
        parameters: [...ids, ...FORM],
        body: { ...fhirBody(MAX_PARAMETERS_BYTES), optional: true },
      },
    ];
  });
}

/** Subscriptions; the operations stand first, where `$status` would be taken for an id. */
export function subscriptionRoutes(services: SubscriptionServices): Route[] {
  return [...operationRoutes(services), ...writingRoutes(services), ...readingRoutes(services)];
}
