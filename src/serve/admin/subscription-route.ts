/** Everybody's subscriptions, for the admin: how they stand, and what was given up. */
import type { Request, Response } from 'express';
import { listDeadLetters } from '../../store/subscription-events.js';
import type { DeadLetter } from '../../store/subscription-events.js';
import { listSubscriptions } from '../../store/subscription-figures.js';
import type { SubscriptionRecord } from '../../store/subscriptions.js';
import type { Pool } from '../../store/pool.js';
import { jsonResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { TEXT_OR_NULL, TIME, TIME_OR_NULL, isoTime } from './answers.js';

const MOST = 1_000;
const LETTERS_OF_EACH = 100;

const COUNT = { type: 'integer' };
const TEXT = { type: 'string' };
const LETTER_SCHEMA = {
  type: 'object',
  required: ['event', 'givenUpAt', 'attempts', 'reason'],
  properties: { event: COUNT, givenUpAt: TIME, attempts: COUNT, reason: TEXT },
};
const SCHEMA = {
  type: 'object',
  required: ['subscription', 'client', 'topic', 'content', 'host', 'status', 'events', 'settled'],
  properties: {
    subscription: TEXT,
    client: { type: 'string', description: 'The owner’s client id.' },
    topic: TEXT,
    content: TEXT,
    host: { type: 'string', description: 'Of the endpoint no more than that.' },
    status: { type: 'string', enum: ['requested', 'active', 'error', 'off'] },
    error: TEXT_OR_NULL,
    events: { ...COUNT, description: 'The number of the last event.' },
    settled: { ...COUNT, description: 'Up to this number events were delivered or given up.' },
    failures: { ...COUNT, description: 'In a row, up to now.' },
    failingSince: TIME_OR_NULL,
    lastSentAt: TIME_OR_NULL,
    deadLetters: {
      type: 'array',
      items: LETTER_SCHEMA,
      description: `Events that the subscriber refused again and again: the last ${LETTERS_OF_EACH}.`,
    },
  },
};

function renderLetter({ eventNumber, givenUpMs, attempts, reason }: DeadLetter): object {
  return { event: eventNumber, givenUpAt: isoTime(givenUpMs), attempts, reason };
}

function render(
  found: SubscriptionRecord & { readonly clientId: string },
  letters: readonly DeadLetter[],
): object {
  return {
    subscription: found.subscriptionId,
    client: found.clientId,
    topic: found.topic,
    content: found.content,
    host: new URL(found.endpoint).host,
    status: found.status,
    error: found.error,
    events: found.events,
    settled: found.settled,
    failures: found.failures,
    failingSince: isoTime(found.failingSinceMs),
    lastSentAt: isoTime(found.lastSentMs),
    deadLetters: letters.map(renderLetter),
  };
}

export function subscriptionListRoute({ pool }: { readonly pool: Pool }): Route {
  return {
    method: 'get',
    path: '/admin/subscriptions',
    scopes: ['admin'],
    summary: 'List the subscriptions of all clients, how they stand, and what was given up',
    responses: {
      200: jsonResponse('All subscriptions, oldest first.', {
        type: 'object',
        required: ['subscriptions'],
        properties: { subscriptions: { type: 'array', items: SCHEMA } },
      }),
    },
    async handler(_req: Request, res: Response) {
      const found = await listSubscriptions(pool, MOST);
      const keys = found.map(({ subscriptionKey }) => subscriptionKey);
      const letters = await listDeadLetters(pool, keys, LETTERS_OF_EACH);
      const subscriptions = found.map((one) => render(one, letters.get(one.subscriptionKey) ?? []));
      sendJson(res, 200, { subscriptions });
    },
  };
}
