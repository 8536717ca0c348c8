/** Reading kept messages again once a mapping was put in force. */
import { z } from 'zod';
import { listReplayable } from '../../store/find-replayable.js';
import type { ReplayedReading } from '../../store/replay-set.js';
import { VITALS } from '../../vitals/words.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { actorOf } from '../rules/services.js';
import { idOf, noSuchSubmission, withinReach } from './access.js';
import type { ReviewServices } from './services.js';

/** Messages that one request reads again. */
const MAX_MESSAGES = 100;

const FilterBody = z.strictObject({
  source: z.string().min(1).max(200).optional(),
  receivedFrom: z.iso.datetime({ offset: true }).optional(),
  receivedTo: z.iso.datetime({ offset: true }).optional(),
  after: z.uuid().optional(),
  look: z.boolean().optional(),
});

const READINGS = {
  type: 'array',
  description: 'Readings that were made or judged anew.',
  items: {
    type: 'object',
    required: ['reading', 'index', 'vital', 'verdict', 'rules', 'published', 'isNew'],
    properties: {
      reading: { type: 'string', format: 'uuid' },
      index: { type: 'integer' },
      vital: { type: 'string', enum: VITALS },
      verdict: { type: 'string', enum: ['accepted', 'noted', 'held', 'rejected'] },
      rules: {
        description: 'Those that spoke about it.',
        type: 'array',
        items: { type: 'string' },
      },
      published: { type: 'boolean' },
      isNew: { description: 'Nobody could read it before.', type: 'boolean' },
    },
  },
} as const;

const MESSAGES = {
  type: 'object',
  required: ['messages', 'next'],
  properties: {
    messages: {
      type: 'array',
      items: {
        type: 'object',
        required: ['submission', 'readings'],
        properties: { submission: { type: 'string', format: 'uuid' }, readings: READINGS },
      },
    },
    next: {
      description: 'To be sent as `after`; null: these were the last.',
      type: ['string', 'null'],
    },
  },
} as const;

function render(replayed: ReplayedReading): Record<string, unknown> {
  const { readingId, index, vital, verdict, rules, published, isNew } = replayed;
  return { reading: readingId, index, vital, verdict, rules, published, isNew };
}

function replayOne(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/submissions/:id/replay',
    scopes: ['review.write'],
    summary: 'Read a kept message again, by the mapping that is in force now',
    description:
      'Readings that were rejected, and rows that nobody could read, are judged anew; what stands is not touched.',
    parameters: [
      {
        name: 'id',
        in: 'path',
        description: 'Id of the submission, or of a part of it.',
        schema: { type: 'string', format: 'uuid' },
      },
    ],
    responses: {
      200: jsonResponse('What came of it; empty: nothing is read otherwise than before.', {
        type: 'object',
        required: ['readings'],
        properties: { readings: READINGS },
      }),
      404: problemResponse('There is no such submission.'),
    },
    audit: { action: 'submission-replayed', entity: 'submissions/:id', by: 'act' },
    async handler(req, res, caller) {
      const id = idOf(req, noSuchSubmission);
      const replayed = await services.replay(id, await actorOf(services.names, caller));
      if (replayed === null) throw noSuchSubmission();
      sendJson(res, 200, { readings: replayed.map(render) });
    },
  };
}

function replayMany(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/replays',
    scopes: ['review.write'],
    summary: `Read kept messages again, up to ${MAX_MESSAGES} at a time`,
    description:
      'Those with a row that no mapping knew, or with a reading rejected for its unit. `next` names the message to go on after. With `look` nothing is written: it tells what would come of it now.',
    body: {
      content: {
        'application/json': {
          schema: z.toJSONSchema(FilterBody),
          example: { source: 'larkfield-monitors', receivedFrom: '2026-03-01T00:00:00Z' },
        },
      },
    },
    responses: {
      200: jsonResponse('What came of each message.', MESSAGES),
      400: problemResponse('The body is at fault.'),
      422: problemResponse('The search looks at too much to be answered in time.'),
    },
    audit: { action: 'submissions-replayed' },
    async handler(req, res, caller) {
      const { source, receivedFrom, receivedTo, after, look } = readJson(req, FilterBody);
      const filter = {
        source: source ?? null,
        receivedFromMs: receivedFrom === undefined ? null : Date.parse(receivedFrom),
        receivedToMs: receivedTo === undefined ? null : Date.parse(receivedTo),
      };
      const found = await withinReach(
        listReplayable(services.pool, filter, after ?? null, MAX_MESSAGES + 1),
      );
      const cause = await actorOf(services.names, caller);
      const mode = look === true ? 'look' : 'keep';
      const messages: Record<string, unknown>[] = [];
      for (const submission of found.slice(0, MAX_MESSAGES)) {
        const replayed = (await services.replay(submission, cause, mode)) ?? [];
        messages.push({ submission, readings: replayed.map(render) });
      }
      const next = found.length > MAX_MESSAGES ? (found[MAX_MESSAGES - 1] ?? null) : null;
      sendJson(res, 200, { messages, next });
    },
  };
}

export function replayRoutes(services: ReviewServices): Route[] {
  return [replayOne(services), replayMany(services)];
}
