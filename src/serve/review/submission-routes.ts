import type { Request, Response } from 'express';
import { z } from 'zod';
import { findMessageFacts } from '../../store/review-messages.js';
import { findReviewReadingsOf } from '../../store/review-readings.js';
import { findSubmission, listSubmissions } from '../../store/review-submissions.js';
import type { SubmissionSearch } from '../../store/review-submissions.js';
import { noteLook } from '../http/audit-requests.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { ParameterSpec, Route } from '../http/route.js';
import { idOf, noSuchSubmission, withinReach } from './access.js';
import { readCursor, writeCursor } from './cursor.js';
import { instant, statuses, text, word } from './parameter-forms.js';
import { PAGE_FORMS, readQuery } from './read-search.js';
import { renderSibling } from './render-reading.js';
import { renderMessage, renderSubmission } from './render-submission.js';
import { PAGE_PARAMETERS, SOURCE_PARAMETER, timeParameters } from './search-parameters.js';
import { sendKeptBytes } from './send-kept-bytes.js';
import type { ReviewServices } from './services.js';

const KINDS = ['set', 'decision', 'reference-check', 'message'] as const;
const POSITION = z.tuple([z.uuid()]);

const Query = z.strictObject({
  status: statuses.optional(),
  kind: word(KINDS).optional(),
  source: text.optional(),
  receivedFrom: instant.optional(),
  receivedTo: instant.optional(),
  ...PAGE_FORMS,
});

const SUBMISSION_ID: ParameterSpec = {
  name: 'id',
  in: 'path',
  description: 'Id of the submission.',
  schema: { type: 'string', format: 'uuid' },
};
const NO_SUCH_SUBMISSION = problemResponse('There is no such submission.');
const FACTS = { $ref: 'urn:vital-sign-gateway:schema:review-reading:1#/$defs/submission' };

async function answerList(services: ReviewServices, req: Request, res: Response): Promise<void> {
  const { limit, cursor, ...asked } = readQuery(req, Query);
  const search: SubmissionSearch = {
    statuses: asked.status,
    kinds: asked.kind === undefined ? undefined : [asked.kind],
    source: asked.source,
    receivedFromMs: asked.receivedFrom ?? null,
    receivedToMs: asked.receivedTo ?? null,
  };
  const after = cursor === undefined ? null : readCursor(cursor, search, POSITION)[0];
  const found = await withinReach(listSubmissions(services.pool, search, after, limit + 1));
  const page = found.slice(0, limit);
  const last = page.at(-1);
  noteLook(res, { detail: { submissions: page.map(({ submissionId }) => submissionId) } });
  sendJson(res, 200, {
    submissions: page.map(renderSubmission),
    next:
      last === undefined || found.length <= limit ? null : writeCursor([last.submissionId], search),
  });
}

function list(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/submissions',
    scopes: ['review.read'],
    summary: 'List what arrived, newest first, also what was refused and so has no readings',
    parameters: [
      {
        name: 'status',
        in: 'query',
        description: 'Any of these HTTP statuses that were answered, joined by commas.',
        schema: { type: 'array', items: { type: 'integer' } },
        example: '400,409',
      },
      {
        name: 'kind',
        in: 'query',
        description:
          'Sets, decisions about readings, readings against a known value, or messages that brought no set.',
        schema: { type: 'string', enum: KINDS },
      },
      SOURCE_PARAMETER,
      ...timeParameters('received', 'Received'),
      ...PAGE_PARAMETERS,
    ],
    responses: {
      200: jsonResponse('A page of submissions.', {
        type: 'object',
        required: ['submissions', 'next'],
        properties: {
          submissions: { type: 'array', items: FACTS },
          next: { type: ['string', 'null'] },
        },
      }),
      400: problemResponse('A parameter is not known or malformed.'),
      422: problemResponse('The search looks at too much to be answered in time.'),
    },
    audit: { action: 'review-submissions', entity: 'review/submissions' },
    handler: (req: Request, res: Response) => answerList(services, req, res),
  };
}

function readOne(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/submissions/:id',
    scopes: ['review.read'],
    summary:
      'Read what is known of a submission, what was answered, and how its readings stand now',
    parameters: [SUBMISSION_ID],
    responses: {
      200: jsonResponse('The facts; `answer` is the body of the first answer.', FACTS),
      404: NO_SUCH_SUBMISSION,
    },
    audit: { action: 'review-read', entity: 'submissions/:id' },
    async handler(req: Request, res: Response) {
      const id = idOf(req, noSuchSubmission);
      const found = await findSubmission(services.pool, id);
      if (found === null) throw noSuchSubmission();
      const readings = await findReviewReadingsOf(services.pool, id);
      sendJson(res, 200, {
        ...renderSubmission(found.facts),
        answer: JSON.parse(found.answer.toString()) as unknown,
        readings: readings.map(renderSibling),
        ...renderMessage(await findMessageFacts(services.pool, id)),
      });
    },
  };
}

function readRaw(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/submissions/:id/raw',
    scopes: ['review.read'],
    summary: 'Read the bytes of a submission exactly as they arrived',
    parameters: [SUBMISSION_ID],
    responses: {
      200: {
        description: 'The bytes. Inert: to be kept or looked at as text, never shown as a page.',
        content: {
          'application/octet-stream': { schema: { type: 'string', format: 'binary' } },
        },
        headers: { 'Repr-Digest': 'Their SHA-256 (RFC 9530 §3).' },
      },
      404: NO_SUCH_SUBMISSION,
    },
    audit: { action: 'review-raw', entity: 'submissions/:id' },
    handler: (req: Request, res: Response) =>
      sendKeptBytes(services.pool, res, idOf(req, noSuchSubmission)),
  };
}

export function submissionRoutes(services: ReviewServices): Route[] {
  return [list(services), readOne(services), readRaw(services)];
}
