/** Bulk Data Access: kick-off, status and files, and the wards that can be exported as Groups. */
import type { Group } from 'fhir/r4.js';
import { findWardPatients, listWards } from '../../store/find-wards.js';
import { readLastStamp } from '../../store/publication-clock.js';
import { fhirHandler } from '../fhir/fhir-handler.js';
import type { FhirAnswer } from '../fhir/fhir-handler.js';
import { handlingOf } from '../fhir/negotiate.js';
import { parseSearch } from '../fhir/parse-search.js';
import { refusal } from '../fhir/refuse.js';
import { FORM, REFUSALS, fhirBody, fhirResponse } from '../fhir/route-kinds.js';
import { pathParameter } from '../http/route.js';
import type { Area, Caller, ParameterSpec, ResponseSpec, Route } from '../http/route.js';
import { Fetches, sendFile } from './export-file.js';
import type { ExportServices } from './export-services.js';
import { endExport, showStatus } from './export-status.js';
import { KEPT_HOURS, kickOff } from './kick-off.js';
import type { ExportLevel } from './read-export-request.js';
import { pathOfGroup, renderWard, renderWards } from './ward-group.js';

/** With one of these a client may have exports; what it may have in them is checked by type. */
const SCOPES = ['system/Observation.rs', 'system/Patient.rs'] as const;
const MAX_BODY_BYTES = 256 * 1024;
const MAX_WARDS = 1000;

const ASYNC: ParameterSpec = {
  name: 'Prefer',
  in: 'header',
  required: true,
  example: 'respond-async',
  description: 'respond-async; with handling=lenient, what is not offered is passed over',
};
const QUERY: readonly ParameterSpec[] = [
  { name: '_outputFormat', description: 'application/fhir+ndjson, application/ndjson or ndjson' },
  {
    name: '_since',
    description: 'An instant: only what changed after it. The transactionTime of the export before',
    example: '2026-03-01T08:00:00Z',
  },
  { name: '_until', description: 'An instant: only what changed before it' },
  { name: '_type', description: 'Types, separated by commas', example: 'Observation,Patient' },
  {
    name: '_typeFilter',
    description: 'Searches of a type; what meets one of them is exported',
    example: 'Observation?code=http://loinc.org|8867-4',
    repeats: true,
  },
].map((spec) => ({ ...spec, in: 'query' }));
const GROUP_ID: ParameterSpec = {
  name: 'id',
  in: 'path',
  description:
    'The path of a ward; each byte but letters, digits and hyphens as a dot and two hexadecimal digits',
};
const EXPORT_ID: ParameterSpec = { name: 'id', in: 'path', description: 'From Content-Location' };
const GONE = {
  404: fhirResponse('This client has no such export, or it has expired or was deleted'),
};
const EMPTY: ResponseSpec = { description: 'Taken; afterwards it is answered 404' };

const LEVELS: readonly { level: ExportLevel; path: string; of: string }[] = [
  { level: 'system', path: '/fhir/$export', of: 'everything' },
  { level: 'patient', path: '/fhir/Patient/$export', of: 'the data of all patients' },
  {
    level: 'group',
    path: '/fhir/Group/:id/$export',
    of: 'the data of the patients who are in a ward now',
  },
];

function kickOffRoutes(services: ExportServices): Route[] {
  return LEVELS.flatMap(({ level, path, of }) => {
    const facts = {
      path,
      scopes: SCOPES,
      narrowed: true as const,
      summary: `Starts an export of ${of}`,
      parameters: [...(level === 'group' ? [GROUP_ID] : []), ...QUERY, ASYNC, ...FORM],
      responses: {
        202: {
          description: 'Started',
          headers: { 'Content-Location': 'Where to ask how far it is.' },
        },
        ...(level === 'group' ? { 404: fhirResponse('No place of that path was ever named') } : {}),
        429: fhirResponse('Too many exports; Retry-After says when to try again'),
        ...REFUSALS,
      },
      audit: { action: 'export-started', entity: 'exports', by: 'act' as const },
      handler: fhirHandler((_pairs, req, caller: Caller) => kickOff(level, services, req, caller)),
    };
    const body = {
      ...fhirBody(MAX_BODY_BYTES),
      optional: true,
      description: `A Parameters resource with the same parameters${level === 'system' ? '' : ', and patient: references to patients'}`,
    };
    return [
      { method: 'get', ...facts },
      { method: 'post', ...facts, body },
    ];
  });
}

function followingRoutes(services: ExportServices): Route[] {
  const one = '/fhir/exports/:id';
  const fetches = new Fetches();
  const ndjson = { 'application/fhir+ndjson': { schema: { type: 'string' } } };
  return [
    {
      method: 'get',
      path: one,
      scopes: SCOPES,
      narrowed: true,
      summary: 'How far an export is, or its manifest',
      parameters: [EXPORT_ID],
      responses: {
        200: {
          description: `The manifest; files are handed out until ${KEPT_HOURS} hours after the kick-off`,
          content: { 'application/json': { schema: { type: 'object' } } },
          headers: { Expires: 'When its files are no longer handed out.' },
        },
        202: {
          description: 'Under way',
          headers: { 'X-Progress': 'How far it is.', 'Retry-After': 'Seconds to wait.' },
        },
        500: fhirResponse('It failed'),
        ...GONE,
      },
      audit: { action: 'export-status', entity: 'exports/:id' },
      handler: (req, res, caller) => showStatus(services, req, res, caller),
    },
    {
      method: 'delete',
      path: one,
      scopes: SCOPES,
      narrowed: true,
      summary: 'Ends an export, and its files',
      parameters: [EXPORT_ID],
      responses: { 202: EMPTY, ...GONE },
      audit: { action: 'export-cancelled', entity: 'exports/:id', by: 'act' },
      handler: (req, res, caller) => endExport(services, req, res, caller),
    },
    {
      method: 'get',
      path: `${one}/files/:number`,
      scopes: SCOPES,
      narrowed: true,
      summary: 'A file of an export: a resource a line',
      parameters: [
        EXPORT_ID,
        { name: 'number', in: 'path', description: 'From the manifest' },
        { name: 'Accept-Encoding', in: 'header', description: 'gzip is offered' },
      ],
      responses: { 200: { description: 'The resources', content: ndjson }, ...GONE },
      audit: { action: 'export-file', entity: 'exports/:id/files/:number', by: 'act' },
      handler: (req, res, caller) => sendFile(services, fetches, req, res, caller),
    },
  ];
}

async function answerWard({ readers }: ExportServices, id: string): Promise<FhirAnswer> {
  const path = pathOfGroup(id);
  const asOfMs = await readLastStamp(readers);
  const members = path === null ? null : await findWardPatients(readers, path, asOfMs);
  if (path === null || members === null) {
    throw refusal(404, 'not-found', 'There is no such Group: its id is the path of a ward.');
  }
  const ward: Group = renderWard({ path, patients: members.length }, id);
  return { status: 200, text: JSON.stringify(ward) };
}

function wardRoutes(services: ExportServices): Route[] {
  const { readers, baseUrl, siteMs } = services;
  return [
    {
      method: 'get',
      path: '/fhir/Group',
      scopes: ['system/Group.s'],
      summary: 'The wards in which somebody is now, as Groups without their members',
      parameters: FORM,
      responses: { 200: fhirResponse('A Bundle of type searchset'), ...REFUSALS },
      handler: fhirHandler(async (pairs, req) => {
        const asOfMs = await readLastStamp(readers);
        parseSearch(pairs, [], handlingOf(req.headers), { baseUrl, siteMs, nowMs: asOfMs });
        const wards = await listWards(readers, asOfMs, MAX_WARDS);
        return { status: 200, text: JSON.stringify(renderWards(wards, baseUrl)) };
      }),
    },
    {
      method: 'get',
      path: '/fhir/Group/:id',
      scopes: ['system/Group.r'],
      summary: 'A ward as a Group, with the number of patients who are there now',
      parameters: [GROUP_ID, ...FORM],
      responses: {
        200: fhirResponse('The Group'),
        404: fhirResponse('No place of that path was ever named'),
        ...REFUSALS,
      },
      handler: fhirHandler((_pairs, req) => answerWard(services, pathParameter(req, 'id'))),
    },
  ];
}

/** Stands before the rest of the FHIR side, where `Patient/$export` would be taken for an id. */
export function exportArea(services: ExportServices): Area {
  return {
    name: 'bulk export',
    description: 'FHIR Bulk Data Access: exports as files of one resource a line',
    prefix: '/fhir',
    errorStyle: 'fhir',
    routes: [...kickOffRoutes(services), ...followingRoutes(services), ...wardRoutes(services)],
  };
}
