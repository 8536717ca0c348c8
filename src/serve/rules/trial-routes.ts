import type { Request, Response } from 'express';
import { readTrialBody } from '../../site-rules/read-rule-bodies.js';
import { findTrial, listTrials } from '../../store/trials.js';
import type { TrialRecord } from '../../store/trials.js';
import { HttpError } from '../http/http-error.js';
import { bodyOf } from '../http/read-body.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import { pathParameter } from '../http/route.js';
import type { ParameterSpec, Route } from '../http/route.js';
import { actorOf, valueOf } from './services.js';
import type { RulesServices } from './services.js';

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;
const DEFAULT_EXAMPLES = 5;
const LISTED = 100;

const TRIAL_ID: ParameterSpec = {
  name: 'id',
  in: 'path',
  description: 'Id of the trial.',
  schema: { type: 'string', format: 'uuid' },
};
const NO_SUCH_TRIAL = problemResponse('There is no such trial.');

/** A trial shows what was said of readings: who tries must also be one who may review. */
const SCOPES = { scopes: ['rules.write', 'review.read'], needsAll: true } as const;

function noSuchTrial(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such trial.' });
}

function idOf(req: Request): string {
  const id = pathParameter(req, 'id');
  if (!UUID.test(id)) throw noSuchTrial();
  return id.toLowerCase();
}

function render(trial: TrialRecord): object {
  const isoTime = (epochMs: number): string => new Date(epochMs).toISOString();
  return {
    trial: trial.trialId,
    state: trial.state,
    requestedAt: isoTime(trial.requestedMs),
    requestedBy: trial.requestedBy?.client ?? null,
    receivedFrom: isoTime(trial.fromMs),
    receivedTo: isoTime(trial.toMs),
    progress: { setsJudged: trial.setsJudged, setsTotal: trial.setsTotal },
    endedAt: trial.endedMs === null ? null : isoTime(trial.endedMs),
    report: trial.result,
    configuration: trial.configuration,
  };
}

async function renderOne({ pool }: RulesServices, trialId: string): Promise<object> {
  const trial = await findTrial(pool, trialId);
  if (trial === null) throw noSuchTrial();
  return render(trial);
}

function startRoute(services: RulesServices): Route {
  const { names, trials } = services;
  return {
    ...SCOPES,
    method: 'post',
    path: '/rules/trials',
    summary: 'Try a configuration on sets that were received, without touching anything',
    description:
      'Each set is judged twice in memory: by the edition that judged it, and by the configuration. What differs is reported by rule, direction and ward. It runs in the background; ask for it until it is done.',
    body: { content: { 'application/json': { schema: 'trial-request' } } },
    responses: {
      202: jsonResponse('Begun.', 'trial'),
      400: problemResponse('Every fault of the body and of the configuration.'),
      409: problemResponse('This process is at work on another trial.'),
    },
    audit: { action: 'trial-start', by: 'act' },
    async handler(req, res, caller) {
      const body = valueOf(readTrialBody(bodyOf(req)));
      const trialId = await trials.start(await actorOf(names, caller), {
        configuration: body.configuration,
        fromMs: Date.parse(body.receivedFrom),
        toMs: Date.parse(body.receivedTo),
        examples: body.examples ?? DEFAULT_EXAMPLES,
      });
      if (trialId === null) {
        const detail = 'A trial is under way here: wait until it is done, or cancel it.';
        throw new HttpError({ status: 409, detail });
      }
      res.setHeader('Location', `/rules/trials/${trialId}`);
      sendJson(res, 202, await renderOne(services, trialId));
    },
  };
}

function listRoute({ pool }: RulesServices): Route {
  return {
    ...SCOPES,
    method: 'get',
    path: '/rules/trials',
    summary: `List the last ${LISTED} trials, newest first`,
    responses: {
      200: jsonResponse('The trials.', {
        type: 'object',
        required: ['trials'],
        properties: {
          trials: { type: 'array', items: { $ref: 'urn:vital-sign-gateway:schema:trial:1' } },
        },
      }),
    },
    async handler(_req: Request, res: Response) {
      sendJson(res, 200, { trials: (await listTrials(pool, LISTED)).map(render) });
    },
  };
}

function readRoute(services: RulesServices): Route {
  return {
    ...SCOPES,
    method: 'get',
    path: '/rules/trials/:id',
    summary: 'Read how far a trial is, and what came of it',
    parameters: [TRIAL_ID],
    responses: { 200: jsonResponse('The trial.', 'trial'), 404: NO_SUCH_TRIAL },
    async handler(req: Request, res: Response) {
      sendJson(res, 200, await renderOne(services, idOf(req)));
    },
  };
}

function cancelRoute(services: RulesServices): Route {
  const { names, trials } = services;
  return {
    ...SCOPES,
    method: 'delete',
    path: '/rules/trials/:id',
    summary: 'Cancel a trial that is running',
    description: 'The process that runs it stops within a second; what it had found is kept.',
    parameters: [TRIAL_ID],
    responses: {
      202: jsonResponse('It will stop.', 'trial'),
      404: NO_SUCH_TRIAL,
      409: problemResponse('It has ended already.'),
    },
    audit: { action: 'trial-cancel', entity: 'trials/:id', by: 'act' },
    async handler(req, res, caller) {
      const id = idOf(req);
      const asked = await trials.cancel(await actorOf(names, caller), id);
      const trial = await renderOne(services, id);
      if (!asked) throw new HttpError({ status: 409, detail: 'This trial has ended already.' });
      sendJson(res, 202, trial);
    },
  };
}

/** Trying a configuration before it is proposed. */
export function trialRoutes(services: RulesServices): Route[] {
  return [startRoute(services), listRoute(services), readRoute(services), cancelRoute(services)];
}
