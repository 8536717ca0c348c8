import type { Request, Response } from 'express';
import { changeDevice, registerDevice } from '../../store/devices.js';
import type { DeviceOutcome } from '../../store/devices.js';
import { findDevice } from '../../store/find-devices.js';
import { actorOf } from '../rules/services.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { idIn, idParameter, noSuch, noSuchResponse, refuse } from './answers.js';
import { DeviceChangeBody, NewDeviceBody, toDeviceSettings, toIdentifier } from './device-form.js';
import { DEVICE_SCHEMA, renderDevice } from './device-render.js';
import { sentAs } from './forms.js';
import type { RegistryServices } from './services.js';

const EXAMPLE = {
  display: 'Bedside monitor, bed 12',
  type: 'monitor',
  location: 'larkfield/12',
  signs: ['pulse-rate', 'oxygen-saturation', 'blood-pressure', 'respiratory-rate'],
  attended: false,
  zone: 'Europe/Vienna',
  timeAccuracySeconds: 1,
  accuracy: { 'oxygen-saturation': { within: 2, unit: '%' } },
};
const ANSWER = 'The device as it is registered now, and how its clock goes.';
const BAD_BODY = problemResponse('Every fault of the body; nothing changed.');
const ETAG = { ETag: 'Version of the device, to be named as `expectedVersion` in a change.' };

/** The id of the device that was written; throws what the change was refused for. */
function settled(outcome: DeviceOutcome): string {
  switch (outcome.outcome) {
    case 'created':
    case 'changed':
    case 'unchanged':
      return outcome.deviceId;
    case 'registered':
      throw refuse(
        409,
        `This device is registered already: /admin/devices/${outcome.deviceId}, version ${outcome.version}.`,
      );
    case 'stale':
      throw refuse(
        409,
        `The device has version ${outcome.version} now: read it again before you change it.`,
      );
    case 'unknown':
      throw noSuch('device');
  }
}

async function sendOne(
  { pool }: RegistryServices,
  res: Response,
  status: number,
  deviceId: string,
): Promise<void> {
  const device = await findDevice(pool, deviceId);
  if (device === null) throw noSuch('device');
  res.setHeader('ETag', `W/"${device.version}"`);
  sendJson(res, status, renderDevice(device));
}

function addRoute(services: RegistryServices): Route {
  const { pool, names } = services;
  return {
    method: 'post',
    path: '/admin/devices',
    scopes: ['admin'],
    summary: 'Register a device',
    description:
      'Messages may have named it before. `signs` null: it may bring any; `attended` null: as its source.',
    body: {
      content: {
        'application/json': {
          schema: sentAs(NewDeviceBody),
          example: { identifier: { eui64: '00-1A-C5-FF-FE-20-4B-07' }, ...EXAMPLE },
        },
      },
    },
    responses: {
      201: { ...jsonResponse(ANSWER, DEVICE_SCHEMA), headers: ETAG },
      400: BAD_BODY,
      409: problemResponse('It is registered already.'),
    },
    audit: { action: 'device-add', entity: 'devices', by: 'act' },
    async handler(req, res, caller) {
      const body = readJson(req, NewDeviceBody);
      const named = toIdentifier(body.identifier);
      const settings = toDeviceSettings(body);
      const by = await actorOf(names, caller);
      const outcome = await registerDevice(pool, names, by, named, settings);
      await sendOne(services, res, 201, settled(outcome));
    },
  };
}

function changeRoute(services: RegistryServices): Route {
  const { pool, names } = services;
  return {
    method: 'put',
    path: '/admin/devices/:id',
    scopes: ['admin'],
    summary: 'Change a device: what is left out goes back to its default',
    description:
      'A device is never deleted; `disabled` takes it out of use. The identifier stays: another identifier is another device.',
    parameters: [idParameter('device')],
    body: {
      content: {
        'application/json': {
          schema: sentAs(DeviceChangeBody),
          example: { expectedVersion: 1, ...EXAMPLE, location: 'larkfield/14' },
        },
      },
    },
    responses: {
      200: { ...jsonResponse(ANSWER, DEVICE_SCHEMA), headers: ETAG },
      400: BAD_BODY,
      404: noSuchResponse('device'),
      409: problemResponse('It has changed since `expectedVersion`.'),
    },
    audit: { action: 'device-change', entity: 'devices/:id', by: 'act' },
    async handler(req, res, caller) {
      const id = idIn(req, 'device');
      const body = readJson(req, DeviceChangeBody);
      const { expectedVersion } = body;
      const settings = toDeviceSettings(body);
      const outcome = await changeDevice(
        pool,
        names,
        await actorOf(names, caller),
        id,
        expectedVersion,
        settings,
      );
      await sendOne(services, res, 200, settled(outcome));
    },
  };
}

function readRoute(services: RegistryServices): Route {
  return {
    method: 'get',
    path: '/admin/devices/:id',
    scopes: ['admin'],
    summary: 'Read one device',
    parameters: [idParameter('device')],
    responses: {
      200: { ...jsonResponse(ANSWER, DEVICE_SCHEMA), headers: ETAG },
      404: noSuchResponse('device'),
    },
    handler: (req: Request, res: Response) => sendOne(services, res, 200, idIn(req, 'device')),
  };
}

/** Registering devices, and changing what is registered. */
export function deviceRoutes(services: RegistryServices): Route[] {
  return [addRoute(services), readRoute(services), changeRoute(services)];
}
