import { editionName } from '../../vitals/answers.js';
import type { Arrival } from '../../envelope.js';
import { renderPart } from '../../reference-checks.js';
import type { Names } from '../../store/names.js';
import type { Pool } from '../../store/pool.js';
import { listReferenceChecks } from '../../store/reference-checks.js';
import type { CheckOutcome, KeptCheck } from '../../store/reference-checks.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Area, Caller, Route } from '../http/route.js';
import { CHECK_PARAMETERS, maySee, pseudonymOf, readCheckSearch } from './reference-query.js';

export interface ReferenceServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly receive: (arrival: Arrival) => Promise<Pick<CheckOutcome, 'status' | 'answer'>>;
}

const JSON_TYPE = 'application/json';
const RESULT = { $ref: 'urn:vital-sign-gateway:schema:reference-result:1' };
const PART = { $ref: 'urn:vital-sign-gateway:schema:reference-result:1#/$defs/part' };

function renderPerson(check: KeptCheck, caller: Caller): object | null {
  if (check.person === null || check.personId === null) return null;
  return maySee(caller, check.person) ? check.person : { pseudonym: pseudonymOf(check.personId) };
}

function render(check: KeptCheck, caller: Caller): object {
  return {
    check: check.checkId,
    kind: check.kind,
    takenAt: new Date(check.takenMs).toISOString(),
    ...{ vital: check.vital, method: check.method, site: check.site },
    unit: CATALOGUE[check.vital].unit,
    parts: check.parts.map(renderPart),
    passed: check.passed,
    device: check.device,
    person: renderPerson(check, caller),
    personAsserted: check.personAsserted,
    source: check.source,
    note: check.note,
    edition: editionName(check.edition),
  };
}

/** One line a sign and part: its points in the order of time. */
function renderTrend(newestFirst: readonly KeptCheck[]): object[] {
  const lines = new Map<string, { vital: string; part: string; points: object[] }>();
  for (const check of newestFirst.toReversed()) {
    for (const { part, ...point } of check.parts.map(renderPart)) {
      const key = `${check.vital} ${part}`;
      const line = lines.get(key) ?? { vital: check.vital, part, points: [] };
      const takenAt = new Date(check.takenMs).toISOString();
      line.points.push({ takenAt, check: check.checkId, ...point });
      lines.set(key, line);
    }
  }
  return [...lines.values()];
}

function sendRoute({ receive }: ReferenceServices): Route {
  return {
    method: 'post',
    path: '/reference-checks',
    scopes: ['sets.write', 'bedside'],
    summary: 'Send a reading taken against a known value',
    description:
      'A practice arm, a simulator, a calibrated device. It belongs to no patient and never becomes an Observation. The body is kept as it came.',
    body: { content: { [JSON_TYPE]: { schema: 'reference-check' } } },
    responses: {
      201: jsonResponse('Kept, with pass or fail for each part.', 'reference-result'),
      400: problemResponse('Not JSON, or against the schema: every fault. Kept.'),
    },
    audit: { by: 'act-and-refusals' },
    async handler(req, res, caller) {
      const arrival = { sender: caller, bytes: bodyOf(req), contentType: mediaTypeOf(req) };
      const { status, answer } = await receive(arrival);
      res.status(status).setHeader('Content-Type', status === 400 ? PROBLEM_TYPE : JSON_TYPE);
      res.end(answer);
    },
  };
}

const PROBLEM_TYPE = 'application/problem+json';

function listRoute(services: ReferenceServices): Route {
  return {
    method: 'get',
    path: '/reference-checks',
    scopes: ['rules.read', 'review.read'],
    summary: 'List readings taken against a known value, newest first, by device and by person',
    parameters: CHECK_PARAMETERS,
    responses: {
      200: jsonResponse('The checks.', {
        type: 'object',
        required: ['checks'],
        properties: { checks: { type: 'array', items: RESULT } },
      }),
      400: problemResponse('A parameter is not known or malformed.'),
    },
    audit: { action: 'reference-checks-read' },
    async handler(req, res, caller) {
      const { search, limit } = readCheckSearch(req, caller);
      const checks = await listReferenceChecks(services.pool, search, limit);
      sendJson(res, 200, { checks: checks.map((check) => render(check, caller)) });
    },
  };
}

function trendRoute(services: ReferenceServices): Route {
  return {
    method: 'get',
    path: '/reference-checks/trend',
    scopes: ['rules.read', 'review.read'],
    summary: 'Read how far readings lay from the known value, in the order of time',
    parameters: CHECK_PARAMETERS,
    responses: {
      200: jsonResponse('A line a sign and part.', {
        type: 'object',
        required: ['lines'],
        properties: {
          lines: {
            type: 'array',
            items: {
              type: 'object',
              required: ['vital', 'part', 'points'],
              properties: {
                vital: { type: 'string' },
                part: { type: 'string' },
                points: { type: 'array', items: PART },
              },
            },
          },
        },
      }),
      400: problemResponse('A parameter is not known or malformed.'),
    },
    audit: { action: 'reference-checks-read' },
    async handler(req, res, caller) {
      const { search, limit } = readCheckSearch(req, caller);
      const checks = await listReferenceChecks(services.pool, search, limit);
      sendJson(res, 200, { lines: renderTrend(checks) });
    },
  };
}

/** Readings against a known value: of devices and of those who measure. */
export function referenceArea(services: ReferenceServices): Area {
  return {
    name: 'reference checks',
    description: 'Readings taken against a known value: nobody’s chart',
    prefix: '/reference-checks',
    errorStyle: 'problem',
    routes: [sendRoute(services), listRoute(services), trendRoute(services)],
  };
}
