import type { Request, Response } from 'express';
import { z } from 'zod';
import { readMappingProposal } from '../../deliveries/read-mapping.js';
import {
  findMapping,
  forceMapping,
  listMappings,
  proposeMapping,
} from '../../store/source-mappings.js';
import type { ForceOutcome, MappingRecord } from '../../store/source-mappings.js';
import { bodyOf } from '../http/read-body.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import { pathParameter } from '../http/route.js';
import type { ParameterSpec, Route } from '../http/route.js';
import { actorOf, valueOf } from '../rules/services.js';
import {
  idIn,
  idParameter,
  isoTime,
  noSuch,
  noSuchResponse,
  PERSON_OR_NULL,
  refuse,
  TEXT_OR_NULL,
  TIME,
  TIME_OR_NULL,
} from './answers.js';
import { remark, sentAs, truth } from './forms.js';
import type { RegistryServices } from './services.js';

const ForceBody = z.strictObject({ reason: remark, untried: truth.default(false) });

const EXAMPLE = {
  mapping: {
    codes: [
      {
        system: 'LARKFIELD',
        code: 'NBP-S',
        vital: 'blood-pressure',
        part: 'systolic',
        method: 'oscillometry',
      },
      {
        system: 'LARKFIELD',
        code: 'NBP-D',
        vital: 'blood-pressure',
        part: 'diastolic',
        method: 'oscillometry',
      },
      { system: 'LARKFIELD', code: 'T-EAR', vital: 'body-temperature', site: 'tympanic' },
    ],
    units: [
      { alias: 'mmHg', unit: 'mm[Hg]' },
      { alias: 'degC', unit: 'Cel' },
    ],
  },
  reason: 'The codes of the monitors on Larkfield, from the list of their maker.',
};

const NUMBER: ParameterSpec = {
  name: 'mapping',
  in: 'path',
  description: 'Number of the mapping of this source.',
  schema: { type: 'integer', minimum: 1 },
};

const SCHEMA = {
  type: 'object',
  required: ['number', 'inForce', 'mapping', 'reason', 'proposedAt', 'triedAt'],
  properties: {
    number: { type: 'integer', minimum: 1 },
    inForce: { type: 'boolean', description: 'Messages are read by it now.' },
    mapping: { $ref: 'urn:vital-sign-gateway:schema:source-mapping:1' },
    reason: { type: 'string' },
    proposedAt: TIME,
    proposedBy: { ...TEXT_OR_NULL, description: 'Name of the client.' },
    proposedByPerson: PERSON_OR_NULL,
    triedAt: { ...TIME_OR_NULL, description: 'When a message was last tried with it.' },
    putInForceAt: { ...TIME_OR_NULL, description: 'When it was last put in force.' },
    putInForceBy: TEXT_OR_NULL,
    putInForceByPerson: PERSON_OR_NULL,
    forceReason: TEXT_OR_NULL,
  },
};

/** A `smallint`: beyond it there can be no mapping, and asking the database would be an error. */
const MOST_MAPPINGS = 32_767;

/** The number in the path. @throws HttpError 404 when it is none */
export function mappingNumberIn(req: Request): number {
  const text = pathParameter(req, 'mapping');
  const number = /^[1-9]\d{0,4}$/.test(text) ? Number(text) : Infinity;
  if (number > MOST_MAPPINGS) throw noSuch('mapping');
  return number;
}

/** The number of the mapping that was put in force last; null: none was. */
export function mappingNumberInForce(mappings: readonly MappingRecord[]): number | null {
  const latest = mappings.reduce<MappingRecord | null>(
    (one, other) => ((other.inForceMs ?? 0) > (one?.inForceMs ?? 0) ? other : one),
    null,
  );
  return latest?.version ?? null;
}

function render(mapping: MappingRecord, inForce: number | null): object {
  return {
    number: mapping.version,
    inForce: mapping.version === inForce,
    mapping: mapping.mapping,
    reason: mapping.reason,
    proposedAt: isoTime(mapping.proposedMs),
    proposedBy: mapping.proposedBy?.client ?? null,
    proposedByPerson: mapping.proposedBy?.person ?? null,
    triedAt: isoTime(mapping.triedMs),
    putInForceAt: isoTime(mapping.inForceMs),
    putInForceBy: mapping.inForceBy?.client ?? null,
    putInForceByPerson: mapping.inForceBy?.person ?? null,
    forceReason: mapping.forceReason,
  };
}

function proposeRoute({ pool, names, clock }: RegistryServices): Route {
  return {
    method: 'post',
    path: '/admin/sources/:id/mappings',
    scopes: ['admin'],
    summary: 'Propose how local codes and unit spellings of a source are read',
    description:
      'The whole mapping, not a change of the one before. With any fault it is refused whole. Nothing is read by it until it is put in force; an empty one, put in force, takes the mapping away.',
    parameters: [idParameter('source')],
    body: { content: { 'application/json': { schema: 'mapping-proposal', example: EXAMPLE } } },
    responses: {
      201: jsonResponse('Proposed under the next number of this source.', SCHEMA),
      400: problemResponse('Every fault of the body and of the mapping; nothing changed.'),
      404: noSuchResponse('source'),
    },
    audit: { action: 'mapping-propose', entity: 'sources/:id/mappings', by: 'act' },
    async handler(req, res, caller) {
      const id = idIn(req, 'source');
      const proposal = valueOf(readMappingProposal(bodyOf(req)));
      const by = await actorOf(names, caller);
      const mapping = await proposeMapping(pool, by, id, proposal, clock());
      if (mapping === null) throw noSuch('source');
      sendJson(res, 201, render(mapping, null));
    },
  };
}

function listRoute({ pool }: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/sources/:id/mappings',
    scopes: ['admin'],
    summary: 'List the mappings of a source: proposed, tried, in force',
    parameters: [idParameter('source')],
    responses: {
      200: jsonResponse('All mappings, by number.', {
        type: 'object',
        required: ['inForce', 'mappings'],
        properties: {
          inForce: { type: ['integer', 'null'], description: 'By which messages are read now.' },
          mappings: { type: 'array', items: SCHEMA },
        },
      }),
      404: noSuchResponse('source'),
    },
    async handler(req: Request, res: Response) {
      const mappings = await listMappings(pool, idIn(req, 'source'));
      if (mappings === null) throw noSuch('source');
      const inForce = mappingNumberInForce(mappings);
      sendJson(res, 200, { inForce, mappings: mappings.map((one) => render(one, inForce)) });
    },
  };
}

function readRoute({ pool }: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/sources/:id/mappings/:mapping',
    scopes: ['admin'],
    summary: 'Read one mapping of a source',
    parameters: [idParameter('source'), NUMBER],
    responses: { 200: jsonResponse('The mapping.', SCHEMA), 404: noSuchResponse('mapping') },
    async handler(req: Request, res: Response) {
      const id = idIn(req, 'source');
      const found = await findMapping(pool, id, mappingNumberIn(req));
      if (found === null) throw noSuch('mapping');
      const all = (await listMappings(pool, id)) ?? [];
      sendJson(res, 200, render(found, mappingNumberInForce(all)));
    },
  };
}

/** The mapping that is in force now; throws what it was refused for. */
export function settledForce(done: ForceOutcome): MappingRecord {
  if (done.outcome === 'unknown') throw noSuch('mapping');
  if (done.outcome === 'untried') {
    throw refuse(
      409,
      'Nothing was tried with this mapping yet: try a message with it first, or say so with "untried" and give the reason.',
    );
  }
  return done.mapping;
}

function forceRoute({ pool, names, directory, clock }: RegistryServices): Route {
  return {
    method: 'post',
    path: '/admin/sources/:id/mappings/:mapping/force',
    scopes: ['admin'],
    summary: 'Put a mapping in force, an earlier one again too',
    description:
      'Messages that come from then on are read by it, in every process within two seconds. It must have been tried with a message; else `untried` must say that it was not, and `reason` why it goes in force all the same.',
    parameters: [idParameter('source'), NUMBER],
    body: {
      content: {
        'application/json': {
          schema: sentAs(ForceBody),
          example: {
            reason: 'Compared with the list of the maker; no monitor sends yet.',
            untried: true,
          },
        },
      },
    },
    responses: {
      200: jsonResponse('In force.', SCHEMA),
      400: problemResponse('Every fault of the body; nothing changed.'),
      404: noSuchResponse('mapping'),
      409: problemResponse('It has not been tried.'),
    },
    audit: { action: 'mapping-force', entity: 'sources/:id/mappings/:mapping', by: 'act' },
    async handler(req, res, caller) {
      const id = idIn(req, 'source');
      const number = mappingNumberIn(req);
      const forcing = readJson(req, ForceBody);
      const by = await actorOf(names, caller);
      const done = await forceMapping(pool, by, id, number, forcing, clock());
      const mapping = settledForce(done);
      directory.forget();
      sendJson(res, 200, render(mapping, number));
    },
  };
}

/** How local codes and units of a source are read. */
export function mappingRoutes(services: RegistryServices): Route[] {
  return [proposeRoute(services), listRoute(services), readRoute(services), forceRoute(services)];
}
