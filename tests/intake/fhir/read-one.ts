import { checkResource } from '../../../src/contract/check-resource.js';
import type { Delivery } from '../../../src/intake/fhir/delivery.js';
import { readDelivery } from '../../../src/intake/fhir/read-delivery.js';
import { readExactJson } from '../../../src/intake/fhir/read-exact-json.js';
import type { KnownDevice, KnownPatient, Register } from '../../../src/intake/fhir/register.js';
import { asObject } from '../../../src/intake/fhir/sent-entry.js';
import type { Surroundings } from '../../../src/intake/fhir/sent-entry.js';
import type { Identifier, IncomingReading } from '../../../src/vitals/shapes.js';
import { NO_MAPPING } from '../../../src/vitals/source-profile.js';
import type { SourceProfile } from '../../../src/vitals/source-profile.js';

export const BASE = 'http://gateway.example/fhir';
export const PATIENT_ID = '0197a000-0000-7000-8000-00000000a001';
export const MRN = 'urn:example:mrn';

export const PROFILE: SourceProfile = {
  attended: false,
  zone: null,
  defaultAuthority: null,
  authorities: {},
  mapping: NO_MAPPING,
};

export interface Known {
  readonly patients?: readonly KnownPatient[];
  readonly devices?: Readonly<Record<string, KnownDevice>>;
  /** Values of the identifiers of devices in a test mode. */
  readonly testing?: readonly string[];
}

export const REGISTERED: KnownPatient = {
  id: PATIENT_ID,
  identifiers: [{ system: MRN, value: 'LF-20555' }],
};

function registerOf({ patients = [REGISTERED], devices = {}, testing = [] }: Known): Register {
  const has = (one: KnownPatient, wanted: Identifier): boolean =>
    one.identifiers.some(({ system, value }) => system === wanted.system && value === wanted.value);
  return {
    patient: (id) => patients.find((one) => one.id === id) ?? null,
    patientsWith: (criteria) =>
      patients.filter((one) => criteria.some((identifier) => has(one, identifier))),
    device: (type, id) => devices[`${type}/${id}`] ?? null,
    isTesting: (device) => testing.includes(device.value),
  };
}

export interface SentResource {
  readonly resource: object;
  readonly fullUrl?: string;
  readonly criteria?: readonly Identifier[];
}

export interface Around extends Known {
  readonly linked?: boolean;
  readonly profile?: Partial<SourceProfile>;
}

/** Reads resources as a transaction brings them; Observations must have the form of R4. */
export function readAll(sent: readonly SentResource[], around: Around = {}): Delivery {
  return readText(JSON.stringify(sent.map(({ resource }) => resource)), sent, around);
}

/** @param text a JSON list of the resources, in which every digit counts */
export function readText(
  text: string,
  sent: readonly Partial<SentResource>[],
  { linked = true, profile = {}, ...known }: Around = {},
): Delivery {
  const read = readExactJson(Buffer.from(text));
  if (!read.ok) throw new Error(read.message);
  const resources = read.json.value as readonly object[];
  const around: Surroundings = {
    linked,
    baseUrl: BASE,
    person: null,
    profile: { ...PROFILE, ...profile },
    digits: read.json.digits,
    readCriteria(query) {
      const [, system, value] = /^identifier=([^|]+)\|(.+)$/.exec(query) ?? [];
      return system === undefined || value === undefined ? 'is none' : [{ system, value }];
    },
  };
  const entries = resources.map((resource, index) => {
    const { resourceType } = asObject(resource);
    if (resourceType === 'Observation') {
      const issues = checkResource('Observation', resource);
      if (issues.length > 0) throw new Error(JSON.stringify(issues));
    }
    return {
      index,
      at: `entry ${index}`,
      path: `Bundle.entry[${index}].resource`,
      fullUrl: sent[index]?.fullUrl ?? null,
      resource: asObject(resource),
      criteria: sent[index]?.criteria ?? null,
    };
  });
  return readDelivery(entries, around, registerOf(known));
}

/** The readings that one Observation brings. */
export function readingsOf(resource: object, around: Around = {}): readonly IncomingReading[] {
  const { sets, fates } = readAll([{ resource }], around);
  const [fate] = fates;
  if (fate?.kind !== 'reading') throw new Error(JSON.stringify(fate));
  return sets.flatMap(({ readings }) => readings);
}

/** What is refused of one Observation, as code and place. */
export function faultsOf(resource: object, around: Around = {}): readonly string[] {
  const [fate] = readAll([{ resource }], around).fates;
  if (fate?.kind !== 'refused') return [`not refused: ${JSON.stringify(fate)}`];
  return fate.faults.map(
    ({ code, expression }) => `${code} ${expression.replace('Bundle.entry[0].resource.', '')}`,
  );
}
