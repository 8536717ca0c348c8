/** Whose devices were and are: by device, and by patient. */
import type { Request, Response } from 'express';
import { z } from 'zod';
import { listAssociations } from '../../store/find-associations.js';
import type { AssociationRecord, AssociationSearch } from '../../store/find-associations.js';
import { findDevice } from '../../store/find-devices.js';
import { noteLook } from '../http/audit-requests.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { readCursor, writeCursor } from '../review/cursor.js';
import { flag } from '../review/parameter-forms.js';
import { PAGE_FORMS, readQuery } from '../review/read-search.js';
import { PAGE_PARAMETERS } from '../review/search-parameters.js';
import {
  IDENTIFIER,
  idIn,
  idParameter,
  isoTime,
  noSuch,
  noSuchResponse,
  TEXT_OR_NULL,
  TIME,
  TIME_OR_NULL,
} from './answers.js';
import { businessIdentifier, sentAs, truth } from './forms.js';
import type { RegistryServices } from './services.js';

const Query = z.strictObject({ open: flag.optional(), ...PAGE_FORMS });
const PatientBody = z.strictObject({
  patient: businessIdentifier,
  open: truth.optional(),
  ...PAGE_FORMS,
});
const POSITION = z.tuple([z.int(), z.uuid()]);

export function renderAssociation(association: AssociationRecord): object {
  return {
    association: association.associationId,
    device: association.deviceId,
    deviceIdentifier: association.device,
    patient: { identifier: association.patient },
    from: isoTime(association.fromMs),
    to: isoTime(association.toMs),
    origin: association.origin,
    endedBy: association.endedBy,
    submission: association.submissionId,
    recordedBy: association.recordedBy,
    recordedAt: isoTime(association.recordedMs),
  };
}

const PROPERTIES = {
  association: { type: 'string', format: 'uuid' },
  device: { type: 'string', format: 'uuid' },
  deviceIdentifier: IDENTIFIER,
  patient: {
    type: 'object',
    required: ['identifier'],
    properties: { identifier: IDENTIFIER },
    description: 'As the patient was named.',
  },
  from: TIME,
  to: { ...TIME_OR_NULL, description: 'Not part of it; null: it has not ended.' },
  origin: { type: 'string', enum: ['message', 'admin'] },
  endedBy: {
    type: ['string', 'null'],
    description: 'disassociation, next-association, discharge, transfer or admin.',
  },
  submission: { ...TEXT_OR_NULL, description: 'The message that made it.' },
  recordedBy: { ...TEXT_OR_NULL, description: 'The client that made it.' },
  recordedAt: TIME,
};

export const ASSOCIATION_SCHEMA = {
  type: 'object',
  required: Object.keys(PROPERTIES),
  properties: PROPERTIES,
};

const PAGE = jsonResponse('A page of associations, the newest start first.', {
  type: 'object',
  required: ['associations', 'next'],
  properties: {
    associations: { type: 'array', items: ASSOCIATION_SCHEMA },
    next: {
      type: ['string', 'null'],
      description: 'The `cursor` of the next page; null: this is the last.',
    },
  },
});

interface Page {
  readonly limit: number;
  readonly cursor?: string | undefined;
}

async function answer(
  { pool }: RegistryServices,
  search: AssociationSearch,
  { limit, cursor }: Page,
  res: Response,
): Promise<void> {
  const place = cursor === undefined ? null : readCursor(cursor, search, POSITION);
  const after = place === null ? null : { fromMs: place[0], associationId: place[1] };
  const found = await listAssociations(pool, search, after, limit + 1);
  const page = found.slice(0, limit);
  const last = page.at(-1);
  const isLast = last === undefined || found.length <= limit;
  noteLook(res, { detail: { associations: page.map(({ associationId }) => associationId) } });
  sendJson(res, 200, {
    associations: page.map(renderAssociation),
    next: isLast ? null : writeCursor([last.fromMs, last.associationId], search),
  });
}

function byDevice(services: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/devices/:id/associations',
    scopes: ['admin'],
    summary: 'List whose a device was and is',
    parameters: [
      idParameter('device'),
      {
        name: 'open',
        in: 'query',
        description: 'Not ended yet, or ended.',
        schema: { type: 'boolean' },
      },
      ...PAGE_PARAMETERS,
    ],
    responses: {
      200: PAGE,
      400: problemResponse('A parameter is not known or malformed.'),
      404: noSuchResponse('device'),
    },
    audit: { action: 'association-list', entity: 'devices/:id' },
    async handler(req: Request, res: Response) {
      const deviceId = idIn(req, 'device');
      const { open, ...page } = readQuery(req, Query);
      if ((await findDevice(services.pool, deviceId)) === null) throw noSuch('device');
      await answer(services, { deviceId, open }, page, res);
    },
  };
}

function byPatient(services: RegistryServices): Route {
  return {
    method: 'post',
    path: '/admin/associations/_search',
    scopes: ['admin'],
    summary: 'List the devices that were and are a patient’s',
    description: 'A patient is never named in an address, which is written down on the way.',
    body: {
      content: {
        'application/json': {
          schema: sentAs(PatientBody),
          example: { patient: { system: 'urn:example:mrn', value: 'LF-20417' }, open: true },
        },
      },
    },
    responses: { 200: PAGE, 400: problemResponse('Every fault of the body.') },
    audit: { action: 'association-list', entity: 'associations' },
    async handler(req: Request, res: Response) {
      const { patient, open, ...page } = readJson(req, PatientBody);
      await answer(services, { patient, open }, page, res);
    },
  };
}

export function associationListRoutes(services: RegistryServices): Route[] {
  return [byDevice(services), byPatient(services)];
}
