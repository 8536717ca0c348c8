/** Devices that are told by resources of their own: what of them is kept. */
import type { EntryFate } from './delivery.js';
import type { Faults } from './fhir-fault.js';
import { readIdentifier } from './identifiers.js';
import {
  asReference,
  deviceIdentifier,
  deviceOf,
  hasTestMode,
  isDeviceType,
} from './read-device.js';
import { homeOf, type Home } from './references.js';
import type { Resolving } from './resolve-reading.js';
import { asList, asObject, asText, type Json, type SentEntry } from './sent-entry.js';

const MAX_STEPS = 8;
const MAX_SEGMENT = 100;

/** The device that it is or belongs to, and its place below that. */
export function tellDevice(entry: SentEntry, resolving: Resolving, faults: Faults): EntryFate {
  const { resource } = entry;
  const { references, register } = resolving;
  const home = homeOf(entry);
  const found = deviceOf(resource, home, references, register);
  if (!('device' in found) || !isDeviceType(resource.resourceType)) {
    const why = 'why' in found ? found.why : 'is no device';
    faults.refuse('', 'required', `The ${String(resource.resourceType)} ${why}.`);
    return { kind: 'used', message: '' };
  }
  const { identifier, setting } = found.device;
  return {
    kind: 'device',
    told: {
      resourceType: resource.resourceType,
      identifier,
      path: pathOf(resource, home, resolving, MAX_STEPS).join('/'),
      test: hasTestMode(resource),
      setting,
    },
  };
}

/** Names of the steps from below the device with an identifier down to this one. */
function pathOf(resource: Json, home: Home, resolving: Resolving, steps: number): string[] {
  if (deviceIdentifier(resource) !== null || steps === 0) return [];
  const above = resource.parent ?? resource.source;
  const located =
    above === undefined ? undefined : resolving.references.locate(asReference(above), home);
  const before =
    located?.in === 'delivery' ? pathOf(located.resource, located.home, resolving, steps - 1) : [];
  return [...before, stepName(resource)];
}

function stepName({ resourceType, type, identifier }: Json): string {
  const [own] = asList(identifier).flatMap((one) => readIdentifier(one) ?? []);
  const { coding, text } = asObject(type);
  const code = asText(asObject(asList(coding)[0]).code) ?? asText(text);
  return (own?.value ?? code ?? String(resourceType)).slice(0, MAX_SEGMENT);
}
