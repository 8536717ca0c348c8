/** Which device measured, and in which mode: from the device trees of both device guides. */
import { EUI64_SYSTEM, canonicalDevice } from '../../vitals/device-identifier.js';
import type { Identifier } from '../../vitals/shapes.js';
import { IDENTIFIER_RULE, readIdentifier } from './identifiers.js';
import { type Home, type ReferenceMap, type SentReference } from './references.js';
import type { KnownDevice, Register } from './register.js';
import { asList, asObject, asText, type Json } from './sent-entry.js';

export type DeviceFound = { readonly device: KnownDevice } | { readonly why: string };

/** HL7 Point-of-Care Device guide: monitor, module, channel and metric are four steps. */
const MAX_STEPS = 8;
const OPERATING_MODE = 'http://hl7.org/fhir/uv/pocd/StructureDefinition/operating-mode';
/** Code system operating-mode of that guide: demonstration, service, maintenance. */
const TEST_MODES: readonly unknown[] = ['Dmo', 'Srv', 'Mtn'];

/** Which device a reference leads to. */
export function findDevice(
  sent: SentReference,
  home: Home,
  references: ReferenceMap,
  register: Register,
  steps = MAX_STEPS,
): DeviceFound {
  const located = references.locate(sent, home);
  switch (located.in) {
    case 'nowhere':
      return { why: located.why };
    case 'name':
      return { device: named(located.identifier, register) };
    case 'delivery':
      return deviceOf(located.resource, located.home, references, register, steps);
    case 'server': {
      const { type, id } = located;
      if (!isDeviceType(type)) return { why: 'must lead to a Device or DeviceMetric' };
      const device = register.device(type, id);
      return device === null
        ? { why: 'leads to no device of this server; name it by its identifier' }
        : { device };
    }
    case 'search':
      return {
        why: 'is a search, which is offered for Patients only; name the device by identifier',
      };
  }
}

export function isDeviceType(type: unknown): type is 'Device' | 'DeviceMetric' {
  return type === 'Device' || type === 'DeviceMetric';
}

function named(sent: Identifier, register: Register): KnownDevice {
  const identifier = canonicalDevice(sent);
  return { identifier, test: register.isTesting(identifier), setting: false };
}

/**
 * The device that a Device or DeviceMetric is or belongs to: the nearest one with an identifier. Modes
 * count from there up to the top; that a metric is a setting is its own.
 */
export function deviceOf(
  resource: Json,
  home: Home,
  references: ReferenceMap,
  register: Register,
  steps = MAX_STEPS,
): DeviceFound {
  if (!isDeviceType(resource.resourceType)) return { why: 'must lead to a Device or DeviceMetric' };
  if (steps === 0) return { why: 'leads to a device tree without end' };
  const own = deviceIdentifier(resource);
  const setting = resource.resourceType === 'DeviceMetric' && resource.category === 'setting';
  const above = [resource.parent, resource.source]
    .filter((one) => one !== undefined)
    .map((one) => findDevice(asReference(one), home, references, register, steps - 1));
  const found = above.find((one) => 'device' in one);
  const test = hasTestMode(resource) || above.some((one) => 'device' in one && one.device.test);
  const identifier =
    own ?? (found !== undefined && 'device' in found ? found.device.identifier : null);
  if (identifier !== null) return { device: { identifier, test, setting } };
  return above[0] ?? { why: `leads to a device that lacks ${IDENTIFIER_RULE}` };
}

/** IEEE EUI-64 first: it is the one that other protocols know the device by. */
export function deviceIdentifier(resource: Json): Identifier | null {
  if (resource.resourceType !== 'Device') return null;
  const sent = asList(resource.identifier).flatMap((one) => readIdentifier(one) ?? []);
  const chosen = sent.find(({ system }) => system === EUI64_SYSTEM) ?? sent[0];
  return chosen === undefined ? null : canonicalDevice(chosen);
}

/** Whether it says of itself that it shows no patient's values. */
export function hasTestMode(resource: Json): boolean {
  return asList(resource.extension)
    .map(asObject)
    .some(({ url, valueCode }) => url === OPERATING_MODE && TEST_MODES.includes(valueCode));
}

/** The four members of a Reference, from a resource whose form was not checked. */
export function asReference(value: unknown): SentReference {
  const { reference, type, identifier, display } = asObject(value);
  const { system, value: text } = asObject(identifier);
  const [knownSystem, knownValue] = [asText(system), asText(text)];
  return {
    reference: asText(reference),
    type: asText(type),
    display: asText(display),
    ...(knownSystem !== undefined &&
      knownValue !== undefined && { identifier: { system: knownSystem, value: knownValue } }),
  };
}
