/** Merges of patients: two registrations found to be one person's, and the undoing of a wrong one. */
import type { Request, Response } from 'express';
import { z } from 'zod';
import { listMerges } from '../../store/list-merges.js';
import type { KeptMerge } from '../../store/list-merges.js';
import { mergePatients, unmergePatients } from '../../store/merge-patients.js';
import type { MergeCause, MergeOutcome } from '../../store/merge-patients.js';
import { HttpError } from '../http/http-error.js';
import { noteLook } from '../http/audit-requests.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Caller, Route } from '../http/route.js';
import { idOf } from './access.js';
import { readCursor, writeCursor } from './cursor.js';
import { PAGE_FORMS, readQuery } from './read-search.js';
import { isoTime } from './render-reading.js';
import { PAGE_PARAMETERS } from './search-parameters.js';
import type { ReviewServices } from './services.js';

const Reason = z.string().min(1).max(500);
const IdentifierBody = z.strictObject({
  system: z.string().min(1).max(200),
  value: z.string().min(1).max(200),
});
const MergeBody = z.strictObject({
  retired: z.strictObject({ identifier: IdentifierBody }),
  survivor: z.strictObject({ identifier: IdentifierBody }),
  reason: Reason,
});
const UndoBody = z.strictObject({ reason: Reason });
const Query = z.strictObject(PAGE_FORMS);
const POSITION = z.tuple([z.uuid()]);
/** A cursor belongs to this list. */
const SEARCH = { list: 'merges' };

const IDENTIFIER = { type: 'object', required: ['system', 'value'] };
const MERGE = {
  type: 'object',
  required: ['merge', 'retired', 'survivor', 'mergedAt', 'reason', 'undoneAt'],
  properties: {
    merge: { type: 'string', format: 'uuid' },
    retired: { description: 'The Patient that ended.', type: 'string' },
    survivor: { description: 'The Patient that stays.', type: 'string' },
    identifiers: { type: 'array', items: IDENTIFIER },
    mergedAt: { type: 'string', format: 'date-time' },
    reason: { type: 'string' },
    undoneAt: { type: ['string', 'null'], format: 'date-time' },
    undoneReason: { type: ['string', 'null'] },
  },
} as const;

const EXAMPLE = {
  retired: { identifier: { system: 'urn:example:mrn', value: 'LF-20999' } },
  survivor: { identifier: { system: 'urn:example:mrn', value: 'LF-20417' } },
  reason: 'Admitted twice under two numbers; wristband and birth date compared.',
};

function render(merge: KeptMerge): Record<string, unknown> {
  const { mergeId, retiredId, survivorId, identifiers, reason, undoneReason } = merge;
  return {
    merge: mergeId,
    retired: `Patient/${retiredId}`,
    survivor: `Patient/${survivorId}`,
    identifiers,
    mergedAt: isoTime(merge.mergedMs),
    reason,
    undoneAt: isoTime(merge.undoneMs),
    undoneReason,
  };
}

async function causeOf(
  { names }: ReviewServices,
  { clientKey, person, origin }: Caller,
  reason: string,
): Promise<MergeCause> {
  if (person !== null) await names.learnPeople([person]);
  return { reason, clientKey, personKey: names.person(person), submissionId: null, origin };
}

function refused(outcome: Exclude<MergeOutcome, { kind: 'merged' }>): HttpError {
  if (outcome.kind === 'one-already') {
    return new HttpError({ status: 409, detail: 'Both identifiers lead to one patient already.' });
  }
  const detail =
    outcome.which === 'survivor'
      ? 'Nobody is registered under the identifier that is to stay.'
      : 'No patient is known by the identifier that is to end.';
  return new HttpError({ status: 422, detail });
}

function mergeRoute(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/merges',
    scopes: ['review.write'],
    summary: 'Merge two registrations of one person',
    description:
      'Every reading of the one gets a next version under the other; the Patient that ended stays readable and points to the other.',
    body: {
      content: { 'application/json': { schema: z.toJSONSchema(MergeBody), example: EXAMPLE } },
    },
    responses: {
      201: jsonResponse('Merged.', {
        type: 'object',
        required: ['merge', 'retired', 'survivor', 'readings'],
        properties: {
          merge: { type: 'string', format: 'uuid' },
          retired: { type: 'string' },
          survivor: { type: 'string' },
          readings: { description: 'How many readings were moved.', type: 'integer' },
        },
      }),
      400: problemResponse('The body is at fault.'),
      409: problemResponse('Both identifiers lead to one patient already.'),
      422: problemResponse('An identifier leads to nobody.'),
    },
    audit: { action: 'patients-merged', by: 'act' },
    async handler(req, res, caller) {
      const { retired, survivor, reason } = readJson(req, MergeBody);
      const outcome = await mergePatients(services.pool, {
        ...(await causeOf(services, caller, reason)),
        retired: retired.identifier,
        survivor: survivor.identifier,
      });
      if (outcome.kind !== 'merged') throw refused(outcome);
      sendJson(res, 201, {
        merge: outcome.mergeId,
        retired: `Patient/${outcome.retiredId}`,
        survivor: `Patient/${outcome.survivorId}`,
        readings: outcome.readings,
      });
      services.onPatientsChanged();
    },
  };
}

function noSuchMerge(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such merge, or it was undone before.' });
}

function undoRoute(services: ReviewServices): Route {
  return {
    method: 'post',
    path: '/review/merges/:id/undo',
    scopes: ['review.write'],
    summary: 'Undo a merge of two patients who are not one',
    description:
      'What was named by an identifier of the Patient that had ended goes back to it, also what came since.',
    parameters: [
      {
        name: 'id',
        in: 'path',
        description: 'Id of the merge.',
        schema: { type: 'string', format: 'uuid' },
      },
    ],
    body: {
      content: {
        'application/json': {
          schema: z.toJSONSchema(UndoBody),
          example: { reason: 'Two sisters with one birth date.' },
        },
      },
    },
    responses: {
      200: jsonResponse('Undone.', {
        type: 'object',
        required: ['retired', 'survivor'],
        properties: { retired: { type: 'string' }, survivor: { type: 'string' } },
      }),
      400: problemResponse('The body is at fault.'),
      404: problemResponse('There is no such merge, or it was undone before.'),
      409: problemResponse('The patient was merged into a third one since: undo that first.'),
    },
    audit: { action: 'patients-unmerged', by: 'act' },
    async handler(req, res, caller) {
      const id = idOf(req, noSuchMerge);
      const { reason } = readJson(req, UndoBody);
      const cause = await causeOf(services, caller, reason);
      const outcome = await unmergePatients(services.pool, id, cause);
      if (outcome.kind === 'unknown') throw noSuchMerge();
      if (outcome.kind === 'merged-since') {
        const detail = 'The patient was merged into a third one since: undo that merge first.';
        throw new HttpError({ status: 409, detail });
      }
      sendJson(res, 200, {
        retired: `Patient/${outcome.retiredId}`,
        survivor: `Patient/${outcome.survivorId}`,
      });
      services.onPatientsChanged();
    },
  };
}

async function answerList(services: ReviewServices, req: Request, res: Response): Promise<void> {
  const { limit, cursor } = readQuery(req, Query);
  const after = cursor === undefined ? null : readCursor(cursor, SEARCH, POSITION)[0];
  const found = await listMerges(services.pool, after, limit + 1);
  const page = found.slice(0, limit);
  const last = page.at(-1);
  noteLook(res, { detail: { merges: page.map(({ mergeId }) => mergeId) } });
  sendJson(res, 200, {
    merges: page.map(render),
    next: last === undefined || found.length <= limit ? null : writeCursor([last.mergeId], SEARCH),
  });
}

function listRoute(services: ReviewServices): Route {
  return {
    method: 'get',
    path: '/review/merges',
    scopes: ['review.read'],
    summary: 'List the merges of patients, newest first',
    parameters: PAGE_PARAMETERS,
    responses: {
      200: jsonResponse('A page of merges.', {
        type: 'object',
        required: ['merges', 'next'],
        properties: {
          merges: { type: 'array', items: MERGE },
          next: { type: ['string', 'null'] },
        },
      }),
      400: problemResponse('A parameter is not known or malformed.'),
    },
    audit: { action: 'review-merges', entity: 'review/merges' },
    handler: (req: Request, res: Response) => answerList(services, req, res),
  };
}

export function mergeRoutes(services: ReviewServices): Route[] {
  return [listRoute(services), mergeRoute(services), undoRoute(services)];
}
