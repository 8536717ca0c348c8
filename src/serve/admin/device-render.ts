/** A device as its administrator sees it. */
import type { DeviceVersion, RegisteredDevice } from '../../store/find-devices.js';
import { VITALS } from '../../vitals/words.js';
import { IDENTIFIER, isoTime, seconds, SECONDS_OR_NULL, TEXT_OR_NULL, TIME } from './answers.js';

/** One version: what was registered, when and by whom. */
export function renderVersion(device: DeviceVersion): object {
  return {
    device: device.deviceId,
    version: device.version,
    registeredAt: isoTime(device.stampMs),
    registeredBy: device.registeredBy,
    identifier: device.identifier,
    display: device.display,
    type: device.type,
    location: device.location,
    signs: device.signs,
    attended: device.attended,
    worn: device.worn,
    zone: device.zone,
    timeAccuracySeconds: seconds(device.timeAccuracyMs),
    accuracy: device.accuracy,
    disabled: device.disabled,
  };
}

export function renderDevice(device: RegisteredDevice): object {
  const { clock, associationId } = device;
  return {
    ...renderVersion(device),
    clock:
      clock === null
        ? null
        : { aheadSeconds: seconds(clock.offsetMs), seenAt: isoTime(clock.seenAtMs) },
    association: associationId,
  };
}

const BOOLEAN_OR_NULL = { type: ['boolean', 'null'] };

const VERSION_PROPERTIES = {
  device: { type: 'string', format: 'uuid' },
  version: { type: 'integer', minimum: 1 },
  registeredAt: { ...TIME, description: 'Commit stamp of this version.' },
  registeredBy: TEXT_OR_NULL,
  identifier: IDENTIFIER,
  display: TEXT_OR_NULL,
  type: TEXT_OR_NULL,
  location: TEXT_OR_NULL,
  signs: {
    type: ['array', 'null'],
    items: { type: 'string', enum: VITALS },
    description: 'Signs that it may bring; null: any.',
  },
  attended: { ...BOOLEAN_OR_NULL, description: 'Null: as its source.' },
  worn: { type: 'boolean' },
  zone: TEXT_OR_NULL,
  timeAccuracySeconds: SECONDS_OR_NULL,
  accuracy: {
    type: 'object',
    additionalProperties: {
      type: 'object',
      required: ['within', 'unit'],
      properties: { within: { type: 'number' }, unit: { type: 'string' } },
    },
  },
  disabled: { type: 'boolean' },
};

export const VERSION_SCHEMA = {
  type: 'object',
  required: Object.keys(VERSION_PROPERTIES),
  properties: VERSION_PROPERTIES,
};

const DEVICE_PROPERTIES = {
  ...VERSION_PROPERTIES,
  clock: {
    type: ['object', 'null'],
    description: 'Its time minus the true time, as last seen in a message that told both.',
    required: ['aheadSeconds', 'seenAt'],
    properties: { aheadSeconds: { type: 'number' }, seenAt: TIME },
  },
  association: {
    type: ['string', 'null'],
    format: 'uuid',
    description: 'Id of the association that has not ended; null: it is nobody’s.',
  },
};

export const DEVICE_SCHEMA = {
  type: 'object',
  required: Object.keys(DEVICE_PROPERTIES),
  properties: DEVICE_PROPERTIES,
};
