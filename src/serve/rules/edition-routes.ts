import type { Request, Response } from 'express';
import { editionName } from '../../vitals/answers.js';
import { readEditionDecision, readEditionProposal } from '../../site-rules/read-rule-bodies.js';
import {
  approveEdition,
  LEAD_MS,
  listEditions,
  proposeEdition,
  refuseEdition,
} from '../../store/editions.js';
import type { EditionRecord, NamedActor } from '../../store/editions.js';
import { EDITION } from '../../vitals/edition.js';
import { HttpError } from '../http/http-error.js';
import { bodyOf } from '../http/read-body.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import { pathParameter } from '../http/route.js';
import type { ParameterSpec, Route } from '../http/route.js';
import { editionRefusal, numberInForce, settle, stateOf } from './edition-state.js';
import { actorOf, valueOf } from './services.js';
import type { RulesServices } from './services.js';

const JSON_TYPE = 'application/json';
const EDITION_NUMBER: ParameterSpec = {
  name: 'edition',
  in: 'path',
  description: 'Number of the edition.',
  schema: { type: 'integer', minimum: 1 },
};
const NO_SUCH_EDITION = problemResponse('There is no such edition.');

/** A `smallint`: beyond it there can be no edition, and asking the database would be an error. */
const MOST_EDITIONS = 32_767;

/** The number in the path. @throws HttpError 404 when it is none */
export function editionNumberOf(req: Request): number {
  const text = pathParameter(req, 'edition');
  const number = /^[1-9]\d{0,4}$/.test(text) ? Number(text) : Infinity;
  if (number > MOST_EDITIONS) throw noSuchEdition();
  return number;
}

function noSuchEdition(): HttpError {
  return editionRefusal('unknown');
}

function isoTime(epochMs: number | null): string | null {
  return epochMs === null || !Number.isFinite(epochMs) ? null : new Date(epochMs).toISOString();
}

function renderActor(actor: NamedActor | null): object | null {
  return actor === null ? null : { client: actor.client, person: actor.person };
}

function render(edition: EditionRecord, inForce: number, nowMs: number): object {
  return {
    edition: editionName(edition.number),
    state: stateOf(edition, inForce, nowMs),
    inForceFrom: isoTime(edition.inForceFromMs),
    reason: edition.reason,
    proposedAt: isoTime(edition.proposedMs),
    proposedBy: renderActor(edition.proposedBy),
    wantedFrom: isoTime(edition.wantedFromMs),
    decisionReason: edition.decisionReason,
    decidedAt: isoTime(edition.decidedMs),
    decidedBy: renderActor(edition.decidedBy),
    configuration: edition.configuration,
  };
}

async function renderOne({ pool, clock }: RulesServices, number: number): Promise<object> {
  const nowMs = clock();
  const editions = await listEditions(pool);
  const found = editions.find((edition) => edition.number === number);
  if (found === undefined) throw noSuchEdition();
  return render(found, numberInForce(editions, nowMs), nowMs);
}

function listRoute({ pool, clock }: RulesServices): Route {
  return {
    method: 'get',
    path: '/rules/editions',
    scopes: ['rules.read', 'rules.write', 'rules.approve'],
    summary: 'List the editions of rules and limits: proposed, in force, past',
    responses: {
      200: jsonResponse('All editions, by number.', {
        type: 'object',
        required: ['inForce', 'editions'],
        properties: {
          inForce: { type: 'string', description: 'By which sets are judged now.' },
          editions: { type: 'array', items: { $ref: 'urn:vital-sign-gateway:schema:edition:1' } },
        },
      }),
    },
    async handler(_req: Request, res: Response) {
      const nowMs = clock();
      const editions = await listEditions(pool);
      const inForce = numberInForce(editions, nowMs);
      sendJson(res, 200, {
        inForce: editionName(inForce),
        editions: editions.map((edition) => render(edition, inForce, nowMs)),
      });
    },
  };
}

function readRoute(services: RulesServices): Route {
  return {
    method: 'get',
    path: '/rules/editions/:edition',
    scopes: ['rules.read', 'rules.write', 'rules.approve'],
    summary: 'Read one edition: its configuration, by whom, when and why',
    parameters: [EDITION_NUMBER],
    responses: { 200: jsonResponse('The edition.', 'edition'), 404: NO_SUCH_EDITION },
    async handler(req: Request, res: Response) {
      sendJson(res, 200, await renderOne(services, editionNumberOf(req)));
    },
  };
}

function proposeRoute(services: RulesServices): Route {
  const { pool, names, clock } = services;
  return {
    method: 'post',
    path: '/rules/editions',
    scopes: ['rules.write'],
    summary: 'Propose a configuration of rules and limits',
    description:
      'The configuration says all that differs from the published defaults. With any fault it is refused whole. Nothing is judged by it until somebody else puts it into force.',
    body: { content: { [JSON_TYPE]: { schema: 'edition-proposal' } } },
    responses: {
      201: jsonResponse('Proposed under the next number.', 'edition'),
      400: problemResponse('Every fault of the body and of the configuration; nothing changed.'),
    },
    audit: { action: 'edition-propose', by: 'act' },
    async handler(req, res, caller) {
      const body = valueOf(readEditionProposal(bodyOf(req), clock()));
      const number = await proposeEdition(
        pool,
        await actorOf(names, caller),
        {
          program: EDITION,
          configuration: body.configuration,
          reason: body.reason,
          wantedFromMs: body.inForceFrom === undefined ? null : Date.parse(body.inForceFrom),
        },
        clock(),
      );
      sendJson(res, 201, await renderOne(services, number));
    },
  };
}

function approveRoute(services: RulesServices): Route {
  const { pool, names, clock } = services;
  return {
    method: 'post',
    path: '/rules/editions/:edition/approve',
    scopes: ['rules.approve'],
    summary: 'Put a proposed edition into force from a moment on',
    description: `By another person than proposed it, or by another client where a program alone did. Sets received from \`inForceFrom\` on are judged by it, in every process; it comes ${LEAD_MS / 1000} seconds after the approval at the soonest. What was judged before stays as it is.`,
    parameters: [EDITION_NUMBER],
    body: { content: { [JSON_TYPE]: { schema: 'edition-decision' } } },
    responses: {
      200: jsonResponse('Approved; `inForceFrom` says from when on it judges.', 'edition'),
      400: problemResponse('Every fault of the body; nothing changed.'),
      404: NO_SUCH_EDITION,
      409: problemResponse('It was decided about before, or another comes into force just then.'),
    },
    audit: { action: 'edition-approve', entity: 'editions/:edition', by: 'act' },
    async handler(req, res, caller) {
      const number = editionNumberOf(req);
      const body = valueOf(readEditionDecision(bodyOf(req), clock()));
      const approval = {
        reason: body.reason,
        fromMs: body.inForceFrom === undefined ? null : Date.parse(body.inForceFrom),
        program: EDITION,
      };
      const actor = await actorOf(names, caller);
      settle(await approveEdition(pool, actor, number, approval, clock));
      sendJson(res, 200, await renderOne(services, number));
    },
  };
}

function refuseRoute(services: RulesServices): Route {
  const { pool, names, clock } = services;
  return {
    method: 'post',
    path: '/rules/editions/:edition/refuse',
    scopes: ['rules.approve', 'rules.write'],
    summary: 'Close a proposed edition, so that it never comes into force',
    parameters: [EDITION_NUMBER],
    body: { content: { [JSON_TYPE]: { schema: 'edition-decision' } } },
    responses: {
      200: jsonResponse('Refused.', 'edition'),
      400: problemResponse('Every fault of the body; nothing changed.'),
      404: NO_SUCH_EDITION,
      409: problemResponse('It was decided about before.'),
    },
    audit: { action: 'edition-refuse', entity: 'editions/:edition', by: 'act' },
    async handler(req, res, caller) {
      const number = editionNumberOf(req);
      const { reason, inForceFrom } = valueOf(readEditionDecision(bodyOf(req), clock()));
      if (inForceFrom !== undefined) {
        const detail = 'A refused edition is never in force: leave inForceFrom out.';
        throw new HttpError({ status: 400, detail });
      }
      const actor = await actorOf(names, caller);
      settle(await refuseEdition(pool, actor, number, reason, clock()));
      sendJson(res, 200, await renderOne(services, number));
    },
  };
}

/** Proposing, approving and reading editions. */
export function editionRoutes(services: RulesServices): Route[] {
  return [
    listRoute(services),
    readRoute(services),
    proposeRoute(services),
    approveRoute(services),
    refuseRoute(services),
  ];
}
