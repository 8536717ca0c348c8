/** Devices, visits, people and places as FHIR R4 resources: no more than the gateway knows of them. */
import type { Device, Encounter, Location, Practitioner } from 'fhir/r4.js';
import type {
  FoundDevice,
  FoundEncounter,
  FoundPerson,
  FoundPlace,
  FoundStay,
} from '../../store/find-directory.js';
import { renderNarrative } from './render-narrative.js';

/** Nobody told which class of visit it is; the binding is extensible. */
const CLASS_UNKNOWN = {
  system: 'http://terminology.hl7.org/CodeSystem/v3-NullFlavor',
  code: 'UNK',
  display: 'unknown',
};

export function renderDevice(found: FoundDevice): Device {
  const { id, identifier, registered } = found;
  const named = registered?.display ?? identifier.value;
  return {
    resourceType: 'Device',
    id,
    ...(registered === null
      ? {}
      : { meta: { lastUpdated: new Date(registered.stampMs).toISOString() } }),
    text: renderNarrative([
      `Device ${named}${registered === null ? ', registered by nobody' : ''}.`,
    ]),
    identifier: [identifier],
    ...(registered === null ? {} : { status: registered.disabled ? 'inactive' : 'active' }),
    ...(registered?.display
      ? { deviceName: [{ name: registered.display, type: 'user-friendly-name' as const }] }
      : {}),
    ...(registered?.type ? { type: { text: registered.type } } : {}),
    ...(found.placeId === null ? {} : { location: toPlace(found.placeId, found.place) }),
  };
}

/** By the stays that the register told of: a visit without any may be anything. */
export function renderEncounter({ id, identifier, patientId, stays }: FoundEncounter): Encounter {
  const [first] = stays;
  const last = stays.at(-1);
  const isOpen = stays.some(({ toMs }) => toMs === null);
  const status = first === undefined ? 'unknown' : isOpen ? 'in-progress' : 'finished';
  const located = stays.flatMap((stay) => {
    const { placeId, place } = stay;
    return placeId === null ? [] : [{ location: toPlace(placeId, place), period: periodOf(stay) }];
  });
  return {
    resourceType: 'Encounter',
    id,
    text: renderNarrative([`Visit ${identifier.value}, ${status}.`]),
    identifier: [identifier],
    status,
    class: CLASS_UNKNOWN,
    subject: { reference: `Patient/${patientId}`, type: 'Patient' },
    ...(first === undefined || last === undefined
      ? {}
      : { period: periodOf({ fromMs: first.fromMs, toMs: isOpen ? null : last.toMs }) }),
    ...(located.length === 0 ? {} : { location: located }),
  };
}

export function renderPractitioner({ id, identifier }: FoundPerson): Practitioner {
  return {
    resourceType: 'Practitioner',
    id,
    text: renderNarrative([`Staff member ${identifier.value}.`]),
    identifier: [identifier],
  };
}

export function renderLocation({ id, path }: FoundPlace): Location {
  return {
    resourceType: 'Location',
    id,
    text: renderNarrative([`Place ${path}.`]),
    name: path,
    mode: 'instance',
  };
}

function toPlace(id: string, path: string | null): { reference: string; display?: string } {
  const reference = `Location/${id}`;
  return path === null ? { reference } : { reference, display: path };
}

function periodOf({ fromMs, toMs }: Pick<FoundStay, 'fromMs' | 'toMs'>): {
  start: string;
  end?: string;
} {
  const start = new Date(fromMs).toISOString();
  return toMs === null ? { start } : { start, end: new Date(toMs).toISOString() };
}
