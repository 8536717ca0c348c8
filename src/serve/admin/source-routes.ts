import type { Request, Response } from 'express';
import { readSourceClocks } from '../../store/source-clocks.js';
import { readSourceHealth } from '../../store/source-health.js';
import {
  addSource,
  changeSource,
  findSource,
  listSources,
  setSourceDisabled,
} from '../../store/sources.js';
import type { SourceConflict, SourceOutcome, SourceRecord } from '../../store/sources.js';
import type { Fault } from '../../vitals/shapes.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Caller, Route } from '../http/route.js';
import { actorOf } from '../rules/services.js';
import { idIn, idParameter, noSuch, noSuchResponse, refuse } from './answers.js';
import { sentAs } from './forms.js';
import type { RegistryServices } from './services.js';
import { SourceBody, toSettings } from './source-form.js';
import { renderSource, SOURCE_SCHEMA } from './source-render.js';

const EXAMPLE = {
  name: 'larkfield monitors',
  attended: false,
  secondIdentifierRequired: true,
  zone: 'Europe/Vienna',
  synchronised: true,
  peer: { application: 'LARKFIELD_GW', facility: 'LARKFIELD' },
  certificate: { sha256: '9f2c41d07be85a36c1d94e07f2b8605a3e7d19c4b05f8a62e31d7c90a4b6f285' },
  defaultAuthority: 'urn:example:mrn',
  authorities: { LARKFIELD_MRN: 'urn:example:mrn' },
};
const BODY = { content: { 'application/json': { schema: sentAs(SourceBody), example: EXAMPLE } } };
const ANSWER = 'The source as it is registered now, and how it does.';
const BAD_BODY = problemResponse('Every fault of the body; nothing changed.');
const CONFLICT = problemResponse(
  'Another source has this name, peer or certificate; or this one came with the gateway and stays what it is.',
);

const CONFLICT_WORDS: Readonly<Record<SourceConflict['of'], readonly [string, string]>> = {
  name: ['/name', 'is the name of another source'],
  peer: ['/peer', 'are the names that the messages of another source bear'],
  certificate: ['/certificate', 'is the certificate of another source'],
};

function toFault({ of, source }: SourceConflict): Fault {
  const [pointer, words] = CONFLICT_WORDS[of];
  return { pointer, message: of === 'name' ? words : `${words}: “${source}”` };
}

/** The source that a change left behind; throws what it was refused for. */
export function settledSource(outcome: SourceOutcome): SourceRecord {
  switch (outcome.outcome) {
    case 'done':
      return outcome.source;
    case 'unknown':
      throw noSuch('source');
    case 'built-in':
      throw refuse(
        409,
        'This source came with the gateway: its name, attendance, peer and certificate stay as they are.',
      );
    case 'conflict':
      throw refuse(
        409,
        'Another source has what tells this one apart; nothing was changed.',
        outcome.conflicts.map(toFault),
      );
  }
}

async function render(services: RegistryServices, sources: SourceRecord[]): Promise<object[]> {
  const { pool, clock } = services;
  const [health, clocks] = await Promise.all([
    readSourceHealth(pool, clock()),
    readSourceClocks(pool),
  ]);
  return sources.map((source) =>
    renderSource(source, health.get(source.sourceKey), clocks.get(source.sourceKey)),
  );
}

async function sendOne(
  services: RegistryServices,
  res: Response,
  status: number,
  source: SourceRecord,
): Promise<void> {
  const [body] = await render(services, [source]);
  sendJson(res, status, body);
}

function addRoute(services: RegistryServices): Route {
  return {
    method: 'post',
    path: '/admin/sources',
    scopes: ['admin'],
    summary: 'Register a source',
    description:
      'HL7 v2 messages are known by their client certificate, without TLS by `peer`: MSH-3 and MSH-4, each by its namespace id or its universal id. Where both are registered, both must agree.',
    body: BODY,
    responses: {
      201: jsonResponse(ANSWER, SOURCE_SCHEMA),
      400: BAD_BODY,
      409: CONFLICT,
    },
    audit: { action: 'source-add', entity: 'sources', by: 'act' },
    async handler(req, res, caller) {
      const settings = toSettings(readJson(req, SourceBody));
      const source = settledSource(
        await addSource(services.pool, await actorOf(services.names, caller), settings),
      );
      services.directory.forget();
      await sendOne(services, res, 201, source);
    },
  };
}

function listRoute(services: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/sources',
    scopes: ['admin'],
    summary: 'List the registered sources, and how they do',
    responses: {
      200: jsonResponse('All sources, oldest first.', {
        type: 'object',
        required: ['sources'],
        properties: { sources: { type: 'array', items: SOURCE_SCHEMA } },
      }),
    },
    async handler(_req: Request, res: Response) {
      sendJson(res, 200, { sources: await render(services, await listSources(services.pool)) });
    },
  };
}

function readRoute(services: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/sources/:id',
    scopes: ['admin'],
    summary: 'Read one source, and how it does',
    parameters: [idParameter('source')],
    responses: { 200: jsonResponse(ANSWER, SOURCE_SCHEMA), 404: noSuchResponse('source') },
    async handler(req: Request, res: Response) {
      const source = await findSource(services.pool, idIn(req, 'source'));
      if (source === null) throw noSuch('source');
      await sendOne(services, res, 200, source);
    },
  };
}

function changeRoute(services: RegistryServices): Route {
  return {
    method: 'put',
    path: '/admin/sources/:id',
    scopes: ['admin'],
    summary: 'Change a source: what is left out goes back to its default',
    description: 'Every process knows it within two seconds.',
    parameters: [idParameter('source')],
    body: BODY,
    responses: {
      200: jsonResponse(ANSWER, SOURCE_SCHEMA),
      400: BAD_BODY,
      404: noSuchResponse('source'),
      409: CONFLICT,
    },
    audit: { action: 'source-change', entity: 'sources/:id', by: 'act' },
    async handler(req, res, caller) {
      const id = idIn(req, 'source');
      const settings = toSettings(readJson(req, SourceBody));
      const by = await actorOf(services.names, caller);
      const source = settledSource(await changeSource(services.pool, by, id, settings));
      services.directory.forget();
      await sendOne(services, res, 200, source);
    },
  };
}

function switchRoute(services: RegistryServices, verb: 'disable' | 'enable'): Route {
  return {
    method: 'post',
    path: `/admin/sources/:id/${verb}`,
    scopes: ['admin'],
    summary:
      verb === 'disable'
        ? 'Disable a source: its clients get no access, its messages are not taken'
        : 'Enable a source again',
    description: 'Every process knows it within two seconds.',
    parameters: [idParameter('source')],
    responses: { 200: jsonResponse(ANSWER, SOURCE_SCHEMA), 404: noSuchResponse('source') },
    audit: { action: `source-${verb}`, entity: 'sources/:id', by: 'act' },
    async handler(req: Request, res: Response, caller: Caller) {
      const id = idIn(req, 'source');
      const atMs = verb === 'disable' ? services.clock() : null;
      const by = await actorOf(services.names, caller);
      const outcome = await setSourceDisabled(services.pool, by, id, atMs);
      const source = settledSource(outcome);
      services.directory.forget();
      await sendOne(services, res, 200, source);
    },
  };
}

/** Registration of sources. */
export function sourceRoutes(services: RegistryServices): Route[] {
  return [
    addRoute(services),
    listRoute(services),
    readRoute(services),
    changeRoute(services),
    switchRoute(services, 'disable'),
    switchRoute(services, 'enable'),
  ];
}
