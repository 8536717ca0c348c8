import type { Request, Response } from 'express';
import { z } from 'zod';
import { listReviewReadings } from '../../store/review-readings.js';
import type { ReviewPosition } from '../../store/review-readings.js';
import type { ReviewSearch } from '../../store/review-search.js';
import { noteLook } from '../http/audit-requests.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { AuditSpec, ParameterSpec, Route } from '../http/route.js';
import { idOf, noSuchReading, withinReach } from './access.js';
import { readCursor, writeCursor } from './cursor.js';
import { readDetail } from './reading-detail.js';
import type { ReadingDetail } from './reading-detail.js';
import { readBodySearch, readQuerySearch } from './read-search.js';
import type { SearchPage } from './read-search.js';
import { renderReading } from './render-reading.js';
import { SEARCH_BODY, SEARCH_PARAMETERS } from './search-parameters.js';
import type { ReviewServices } from './services.js';

/** Beyond this many nobody reads on to the end: the total says so and counting stops. */
const MAX_COUNT = 1_000;

const POSITION = z.tuple([z.int(), z.int(), z.uuid()]);

const READING_ID: ParameterSpec = {
  name: 'id',
  in: 'path',
  description: 'Id of the reading.',
  schema: { type: 'string', format: 'uuid' },
};

const LIST_ANSWERS = {
  200: jsonResponse('A page of readings, and how many there are in all.', {
    type: 'object',
    required: ['readings', 'next'],
    properties: {
      readings: {
        type: 'array',
        items: { $ref: 'urn:vital-sign-gateway:schema:review-reading:1#/$defs/reading' },
      },
      total: {
        description: `On the first page. Not exact: more than ${MAX_COUNT}.`,
        type: 'object',
        required: ['count', 'exact'],
        properties: { count: { type: 'integer' }, exact: { type: 'boolean' } },
      },
      next: {
        description: 'The `cursor` of the next page; null: this is the last.',
        type: ['string', 'null'],
      },
    },
  }),
  400: problemResponse(
    'A parameter is not known or malformed, or the cursor is of another search.',
  ),
  422: problemResponse('The search looks at too much to be answered in time.'),
};

const LISTED: AuditSpec = { action: 'review-list', entity: 'review/readings' };

const DETAIL = jsonResponse('The reading in full.', 'review-reading');
const ETAG = { ETag: 'Version of the reading, to be named as `expectedVersion` in a decision.' };

async function answerSearch(
  services: ReviewServices,
  { search, limit, cursor }: SearchPage<ReviewSearch>,
  res: Response,
): Promise<void> {
  const after = cursor === undefined ? null : positionOf(cursor, search);
  const sizes = { page: limit, count: after === null ? MAX_COUNT + 1 : 0 };
  const { readings, found, next } = await withinReach(
    listReviewReadings(services.pool, search, after, sizes),
  );
  noteLook(res, { detail: { readings: readings.map(({ version }) => version.readingId) } });
  sendJson(res, 200, {
    readings: readings.map(renderReading),
    ...(after === null ? { total: totalOf(found) } : {}),
    next: next === null ? null : writeCursor([next.rank, next.atMs, next.id], search),
  });
}

function totalOf(found: number): { count: number; exact: boolean } {
  return { count: Math.min(found, MAX_COUNT), exact: found <= MAX_COUNT };
}

function positionOf(cursor: string, search: ReviewSearch): ReviewPosition {
  const [rank, atMs, id] = readCursor(cursor, search, POSITION);
  return { rank, atMs, id };
}

function listByAddress(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/readings',
    scopes: ['review.read'],
    summary: 'List readings in review',
    description:
      'Without `state` and `verdict`: what was held or rejected, the newest change first.',
    parameters: SEARCH_PARAMETERS,
    responses: LIST_ANSWERS,
    audit: LISTED,
    handler: (req: Request, res: Response) => answerSearch(services, readQuerySearch(req), res),
  };
}

function listByBody(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/readings/_search',
    scopes: ['review.read'],
    summary: 'List readings in review, also of one patient',
    body: { content: { 'application/json': { schema: SEARCH_BODY } } },
    responses: LIST_ANSWERS,
    audit: LISTED,
    handler: (req: Request, res: Response) => answerSearch(services, readBodySearch(req), res),
  };
}

function sendDetail(res: Response, detail: ReadingDetail, more: object = {}): void {
  res.setHeader('ETag', `W/"${detail.version}"`);
  sendJson(res, 200, { ...detail.body, ...more });
}

function readOne(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/readings/:id',
    scopes: ['review.read'],
    summary: 'Read one reading: its findings, its history, its decisions, what it arrived with',
    parameters: [READING_ID],
    responses: {
      200: { ...DETAIL, headers: ETAG },
      404: problemResponse('There is no such reading.'),
    },
    audit: { action: 'review-read', entity: 'readings/:id' },
    async handler(req: Request, res: Response) {
      const id = idOf(req, noSuchReading);
      const detail = await readDetail(services, id);
      if (detail === null) throw noSuchReading();
      noteLook(res, { patientIds: [detail.patientId] });
      sendDetail(res, detail);
    },
  };
}

function decide(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/readings/:id/decisions',
    scopes: ['review.write'],
    summary: 'Decide about a reading: release, correct, reject, withdraw, assign',
    description:
      '`allowedActions` of the reading says what is possible. A published reading that is corrected to another patient is withdrawn here and published anew there: `published` is that new reading.',
    parameters: [READING_ID],
    body: { content: { 'application/json': { schema: 'decision' } } },
    responses: {
      200: { ...DETAIL, description: 'Done; the reading as it stands now.', headers: ETAG },
      400: problemResponse('Not JSON, or against the schema: every fault with its pointer.'),
      404: problemResponse('There is no such reading.'),
      409: problemResponse(
        'The reading has changed since `expectedVersion`, or its state does not take this decision.',
      ),
      422: problemResponse('The rules reject the correction; nothing changed.'),
    },
    audit: { by: 'act-and-refusals' },
    async handler(req, res, caller) {
      const submission = { sender: caller, bytes: bodyOf(req), contentType: mediaTypeOf(req) };
      const id = idOf(req, noSuchReading);
      const outcome = await services.pipeline.decideReading(submission, id);
      if ('body' in outcome) {
        res.status(outcome.status).setHeader('Content-Type', 'application/problem+json');
        res.end(outcome.body);
        return;
      }
      const detail = await readDetail(services, id);
      if (detail === null) throw noSuchReading();
      const { newReadingId } = outcome;
      const anew = newReadingId === null ? null : await readDetail(services, newReadingId);
      sendDetail(res, detail, anew === null ? {} : { published: anew.body });
    },
  };
}

export function readingRoutes(services: ReviewServices): Route[] {
  return [listByAddress(services), listByBody(services), readOne(services), decide(services)];
}
