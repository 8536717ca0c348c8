/** A device as somebody registers it. */
import { z } from 'zod';
import type { DeviceSettings } from '../../store/devices.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import {
  canonicalDevice,
  EUI64_SYSTEM,
  URI_SYSTEM,
  writeEui64,
} from '../../vitals/device-identifier.js';
import type { Identifier } from '../../vitals/shapes.js';
import { ENTERED_UNITS, VITALS } from '../../vitals/words.js';
import type { Vital } from '../../vitals/words.js';
import { businessIdentifier, line, optional, said, truth, uri, zone } from './forms.js';

const DAY_SECONDS = 86_400;
const EUI64_WORDS = 'must be an EUI-64: sixteen hexadecimal digits, dashes between pairs allowed';

const sign = z.enum(VITALS, said(`must be one of ${VITALS.join(', ')}`));

/** Three ways to name a device; each leads to a namespace and a value in it. */
const DeviceIdentifier = z
  .union(
    [
      z.strictObject({ eui64: z.string(said('must be text')).refine(isEui64, EUI64_WORDS) }),
      z.strictObject({ uri }),
      businessIdentifier.refine(({ system, value }) => system !== EUI64_SYSTEM || isEui64(value), {
        path: ['value'],
        message: EUI64_WORDS,
      }),
    ],
    said(
      `must hold "eui64" (${EUI64_WORDS.slice('must be '.length)}), or "uri" (one that names the device itself, such as urn:uuid:…), or "system" and "value" (a serial number and the URI of whose numbering it is, as the device's messages have them)`,
    ),
  )
  .describe(
    `A device is kept as system and value: an EUI-64 under ${EUI64_SYSTEM} in pairs of upper-case digits with dashes, a URI under ${URI_SYSTEM}.`,
  );

function isEui64(text: string): boolean {
  return writeEui64(text) !== null;
}

const Accuracy = z.strictObject({
  within: z
    .number(said('must be a number'))
    .positive('must be more than 0')
    .max(1000, 'must be at most 1000'),
  unit: z.enum(ENTERED_UNITS, said(`must be one of ${ENTERED_UNITS.join(', ')}`)),
});

const SETTINGS = {
  display: optional(line(200)),
  type: optional(line(100)),
  location: optional(
    line(200).regex(/^[^/]+(\/[^/]+)*$/, 'must be a path from the wide to the narrow: ward/bed'),
  ),
  signs: optional(
    z
      .array(sign, said('must be a list of signs'))
      .min(1, 'must name at least one sign; null: any')
      .max(VITALS.length, 'must name each sign once')
      .refine((signs) => new Set(signs).size === signs.length, 'must name each sign once'),
  ),
  attended: optional(truth),
  worn: truth.default(false),
  zone: optional(zone),
  timeAccuracySeconds: optional(
    z
      .number(said('must be a number of seconds'))
      .min(0, 'must not be less than 0')
      .max(DAY_SECONDS, `must be at most ${DAY_SECONDS}`),
  ),
  accuracy: z
    .partialRecord(sign, Accuracy, {
      error: (issue) => ('keys' in issue ? `must name signs: ${VITALS.join(', ')}` : undefined),
    })
    .default({}),
  disabled: truth.default(false),
};

type Settings = z.output<z.ZodObject<typeof SETTINGS>>;

/** What each member may be is known; here, what they may be together. */
function checkAccuracy({ value, issues }: z.core.ParsePayload<Settings>): void {
  for (const [vital, declared] of Object.entries(value.accuracy)) {
    const refuse = (message: string, path: readonly string[]): void => {
      issues.push({ code: 'custom', path: ['accuracy', vital, ...path], message, input: value });
    };
    const { unitsTaken } = CATALOGUE[vital as Vital];
    if (!unitsTaken.includes(declared.unit)) refuse(`is no unit of ${vital}`, ['unit']);
    if (value.signs?.includes(vital as Vital) === false) refuse('is none of the signs', []);
  }
}

export const NewDeviceBody = z
  .strictObject({ identifier: DeviceIdentifier, ...SETTINGS })
  .check(checkAccuracy);
export const DeviceChangeBody = z
  .strictObject({
    expectedVersion: z.int(said('must be the number of a version')).min(1).max(32_767),
    ...SETTINGS,
  })
  .check(checkAccuracy);

/** The one spelling under which the device is kept. */
export function toIdentifier(named: z.output<typeof DeviceIdentifier>): Identifier {
  if ('eui64' in named) return canonicalDevice({ system: EUI64_SYSTEM, value: named.eui64 });
  if ('uri' in named) return canonicalDevice({ system: URI_SYSTEM, value: named.uri });
  return canonicalDevice(named);
}

export function toDeviceSettings(body: Settings): DeviceSettings {
  return {
    display: body.display,
    type: body.type,
    location: body.location,
    signs: body.signs,
    attended: body.attended,
    worn: body.worn,
    zone: body.zone,
    timeAccuracyMs:
      body.timeAccuracySeconds === null ? null : Math.round(body.timeAccuracySeconds * 1000),
    accuracy: body.accuracy,
    disabled: body.disabled,
  };
}
