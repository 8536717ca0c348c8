import type { Request, Response } from 'express';
import type { Reply } from '../../pipeline.js';
import type { Identifier } from '../../vitals/shapes.js';
import { HttpError } from '../http/http-error.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import { jsonResponse, problemResponse } from '../http/responses.js';
import { isUuid, pathParameter } from '../http/route.js';
import type { Area, Caller, ParameterSpec, Route } from '../http/route.js';
import { EXAMPLE_SET } from './example-set.js';
import type { SetPipeline } from './pipeline-port.js';
import { readChangedSince, readLimit } from './read-query.js';
import { NDJSON, streamSets } from './stream-sets.js';
import type { StreamEvents } from './stream-sets.js';

const JSON_TYPE = 'application/json';

const SET_ID: ParameterSpec = {
  name: 'setId',
  in: 'path',
  description: 'The id that the sender gave the set.',
  schema: { type: 'string', format: 'uuid' },
};

const CHANGED_SETS = {
  type: 'object',
  required: ['sets', 'changedUntil', 'edition'],
  properties: {
    sets: { type: 'array', items: { type: 'object' }, description: 'Each as it stands now.' },
    changedUntil: { type: 'string', format: 'date-time' },
    edition: { type: 'string' },
  },
};

function send(res: Response, reply: Reply): void {
  res.statusCode = reply.status;
  res.setHeader('Content-Type', reply.problem ? 'application/problem+json' : JSON_TYPE);
  if (reply.repeat) res.setHeader('Repeat', 'true');
  res.end(reply.body);
}

function noSuchSet(): HttpError {
  return new HttpError({
    status: 404,
    detail: 'This source, or the person signed in, has sent no such set.',
  });
}

function setIdOf(req: Request): string {
  const setId = pathParameter(req, 'setId');
  if (!isUuid(setId)) throw noSuchSet();
  return setId;
}

function indexOf(req: Request): number {
  const index = pathParameter(req, 'index');
  if (!/^\d{1,5}$/.test(index)) {
    throw new HttpError({ status: 404, detail: 'This set has no such reading.' });
  }
  return Number(index);
}

/** Whose set a request brings, where that is not the caller; null: the caller's own. */
export type TakerOf = (req: Request, caller: Caller) => Promise<Identifier | null>;

const TAKEN_BY: ParameterSpec = {
  name: 'Taken-By',
  in: 'header',
  description:
    'Of somebody signed in: the voucher of the person who took this one set, where that is another (`POST /bedside/vouchers`). It is kept as that person’s, sent by the caller.',
  schema: { type: 'string' },
};

function sendSets(pipeline: SetPipeline, events: StreamEvents, takerOf: TakerOf): Route {
  return {
    method: 'post',
    path: '/sets',
    scopes: ['sets.write', 'bedside'],
    summary: 'Send a vital-sign set, or many, a line each',
    description:
      'The key is the source and `setId`. The same content again gets the first answer again with `Repeat: true`; other content under the same key gets 409. ' +
      `As \`${NDJSON}\` each line is a set (256 KiB a line, 16 MiB a body); the answer has a line \`{ "status", "body" }\` for each, in order, as it is committed. Read the answers while you send: the gateway reads no faster than its answers are taken.`,
    parameters: [TAKEN_BY],
    body: {
      content: {
        [JSON_TYPE]: { schema: 'vital-sign-set', example: EXAMPLE_SET },
        [NDJSON]: { schema: 'vital-sign-set', streamed: true },
      },
    },
    responses: {
      200: {
        description: 'A line for each line sent.',
        content: {
          [NDJSON]: {
            schema: {
              type: 'object',
              required: ['status', 'body'],
              properties: { status: { type: 'integer' }, body: { type: 'object' } },
            },
          },
        },
      },
      201: {
        ...jsonResponse('Taken, and on disk. Each reading has its verdict.', 'answer'),
        headers: { Repeat: '`true` when this set was answered before.' },
      },
      400: problemResponse('Not JSON, or against the schema: every fault with its pointer. Kept.'),
      409: problemResponse('Another set was sent under this `setId` before; nothing changed.'),
      422: {
        ...jsonResponse('Taken and kept, and every reading was rejected.', 'answer'),
        headers: { Repeat: '`true` when this set was answered before.' },
      },
    },
    audit: { by: 'act-and-refusals' },
    async handler(req, res, caller) {
      const type = mediaTypeOf(req);
      const takenBy = await takerOf(req, caller);
      if (type !== NDJSON) {
        send(res, await pipeline.receiveSet(caller, bodyOf(req), type, takenBy));
      } else if (takenBy === null) await streamSets(req, res, caller, pipeline, events);
      else throw new HttpError({ status: 400, detail: 'Taken-By goes with one set at a time.' });
    },
  };
}

function checkSet(pipeline: SetPipeline): Route {
  return {
    method: 'post',
    path: '/sets/check',
    scopes: ['sets.check', 'bedside'],
    rateClass: 'check',
    summary: 'Have a set judged without keeping it',
    description:
      'Nothing is stored but an audit line. Findings carry no earlier values unless a person asks.',
    body: { content: { [JSON_TYPE]: { schema: 'vital-sign-set', example: EXAMPLE_SET } } },
    responses: {
      200: jsonResponse('What would be answered, without ids.', 'answer'),
      400: problemResponse('Not JSON, or against the schema: every fault with its pointer.'),
    },
    audit: { action: 'set-checked' },
    async handler(req, res, caller) {
      send(res, await pipeline.checkSet(caller, bodyOf(req)));
    },
  };
}

function listSets(pipeline: SetPipeline): Route {
  return {
    method: 'get',
    path: '/sets',
    scopes: ['sets.write', 'bedside'],
    summary: 'List own sets that changed since a time',
    description: 'Ask again with `changedUntil` as `changedSince` until no set comes.',
    parameters: [
      {
        name: 'changedSince',
        in: 'query',
        required: true,
        description: 'RFC 3339 with an offset. In an address the + of an offset is written %2B.',
        schema: { type: 'string', format: 'date-time' },
        example: '2026-03-01T07:15:00Z',
      },
      {
        name: 'limit',
        in: 'query',
        description:
          'How many at least, if there are so many; 100 when absent. Sets that changed together come together.',
        schema: { type: 'integer', minimum: 1, maximum: 1000 },
      },
    ],
    responses: {
      200: jsonResponse('The sets, the longest unchanged first.', CHANGED_SETS),
      400: problemResponse('A query parameter is missing or malformed.'),
    },
    audit: { action: 'sets-list' },
    async handler(req, res, caller) {
      const sinceMs = readChangedSince(req);
      send(res, await pipeline.listChangedSets(caller, sinceMs, readLimit(req)));
    },
  };
}

function readSet(pipeline: SetPipeline): Route {
  return {
    method: 'get',
    path: '/sets/:setId',
    scopes: ['sets.write', 'bedside'],
    summary: 'Read an own set as things stand now',
    parameters: [SET_ID],
    responses: {
      200: jsonResponse('The set with its present verdicts.', 'answer'),
      404: problemResponse('This source, or the person signed in, has sent no such set.'),
    },
    audit: { action: 'set-read' },
    async handler(req, res, caller) {
      const reply = await pipeline.findSet(caller, setIdOf(req));
      if (reply === null) throw noSuchSet();
      send(res, reply);
    },
  };
}

function decideOwnReading(pipeline: SetPipeline): Route {
  return {
    method: 'post',
    path: '/sets/:setId/readings/:index/decisions',
    scopes: ['sets.write', 'bedside'],
    summary: 'Correct or withdraw a reading of an own set',
    parameters: [
      SET_ID,
      {
        name: 'index',
        in: 'path',
        description: 'Place of the reading in the set, from 0.',
        schema: { type: 'integer', minimum: 0, maximum: 65_534 },
      },
    ],
    body: { content: { [JSON_TYPE]: { schema: 'own-decision' } } },
    responses: {
      200: jsonResponse('Done; the set as it stands now.', 'answer'),
      400: problemResponse('Not JSON, or against the schema.'),
      404: problemResponse('This source, or the person signed in, has sent no such reading.'),
      409: problemResponse(
        'The reading has changed since, or its state does not take this decision.',
      ),
      422: problemResponse('The rules reject the correction; nothing changed.'),
    },
    audit: { by: 'act-and-refusals' },
    async handler(req: Request, res: Response, caller: Caller) {
      const [setId, index] = [setIdOf(req), indexOf(req)];
      send(res, await pipeline.decideOwn(caller, setId, index, bodyOf(req), mediaTypeOf(req)));
    },
  };
}

/** What senders reach: their own sets. */
export function setsArea(pipeline: SetPipeline, events: StreamEvents, takerOf: TakerOf): Area {
  return {
    name: 'sets',
    description: 'Sending vital-sign sets, and what became of them',
    prefix: '/sets',
    errorStyle: 'problem',
    routes: [
      sendSets(pipeline, events, takerOf),
      checkSet(pipeline),
      listSets(pipeline),
      readSet(pipeline),
      decideOwnReading(pipeline),
    ],
  };
}
