/** Registered devices: a page of them, and what one was before. */
import type { Request, Response } from 'express';
import { z } from 'zod';
import { listDevices, listDeviceVersions } from '../../store/find-devices.js';
import type { DeviceSearch } from '../../store/find-devices.js';
import { canonicalDevice } from '../../vitals/device-identifier.js';
import { VITALS } from '../../vitals/words.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { ParameterSpec, Route, SchemaRef } from '../http/route.js';
import { readCursor, writeCursor } from '../review/cursor.js';
import { flag, identifier, text, word } from '../review/parameter-forms.js';
import { PAGE_FORMS, readQuery } from '../review/read-search.js';
import { PAGE_PARAMETERS } from '../review/search-parameters.js';
import { idIn, idParameter, noSuch, noSuchResponse } from './answers.js';
import { DEVICE_SCHEMA, renderDevice, renderVersion, VERSION_SCHEMA } from './device-render.js';
import type { RegistryServices } from './services.js';

const Query = z.strictObject({
  identifier: identifier.optional(),
  type: text.optional(),
  location: text.transform((path) => path.replace(/\/+$/, '')).optional(),
  vital: word(VITALS).optional(),
  disabled: flag.optional(),
  associated: flag.optional(),
  ...PAGE_FORMS,
});
const POSITION = z.tuple([z.uuid()]);

function parameter(name: string, description: string, schema: SchemaRef): ParameterSpec {
  return { name, in: 'query', description, schema };
}

const LIST_PARAMETERS: readonly ParameterSpec[] = [
  parameter('identifier', 'The device of this identifier, as `system|value`.', { type: 'string' }),
  parameter('type', 'Of this type.', { type: 'string' }),
  parameter('location', 'In this place, or within it.', { type: 'string' }),
  parameter('vital', 'May bring this sign.', { type: 'string', enum: VITALS }),
  parameter('disabled', 'Disabled, or not.', { type: 'boolean' }),
  parameter('associated', 'Somebody’s now, or nobody’s.', { type: 'boolean' }),
  ...PAGE_PARAMETERS,
];

function listRoute({ pool }: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/devices',
    scopes: ['admin'],
    summary: 'List the registered devices',
    parameters: LIST_PARAMETERS,
    responses: {
      200: jsonResponse('A page of devices, in the order of their registration.', {
        type: 'object',
        required: ['devices', 'next'],
        properties: {
          devices: { type: 'array', items: DEVICE_SCHEMA },
          next: {
            type: ['string', 'null'],
            description: 'The `cursor` of the next page; null: this is the last.',
          },
        },
      }),
      400: problemResponse('A parameter is not known or malformed.'),
    },
    async handler(req: Request, res: Response) {
      const { limit, cursor, ...asked } = readQuery(req, Query);
      const search: DeviceSearch = {
        ...asked,
        identifier: asked.identifier === undefined ? undefined : canonicalDevice(asked.identifier),
      };
      const after = cursor === undefined ? null : readCursor(cursor, search, POSITION)[0];
      const found = await listDevices(pool, search, after, limit + 1);
      const page = found.slice(0, limit);
      const last = page.at(-1);
      const isLast = last === undefined || found.length <= limit;
      sendJson(res, 200, {
        devices: page.map(renderDevice),
        next: isLast ? null : writeCursor([last.deviceId], search),
      });
    },
  };
}

function versionsRoute({ pool }: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/devices/:id/versions',
    scopes: ['admin'],
    summary: 'Read how a device was registered before',
    parameters: [idParameter('device')],
    responses: {
      200: jsonResponse('All versions, newest first.', {
        type: 'object',
        required: ['versions'],
        properties: { versions: { type: 'array', items: VERSION_SCHEMA } },
      }),
      404: noSuchResponse('device'),
    },
    async handler(req: Request, res: Response) {
      const versions = await listDeviceVersions(pool, idIn(req, 'device'));
      if (versions.length === 0) throw noSuch('device');
      sendJson(res, 200, { versions: versions.map(renderVersion) });
    },
  };
}

export function deviceListRoutes(services: RegistryServices): Route[] {
  return [listRoute(services), versionsRoute(services)];
}
