import type { HumanName, Meta, Patient } from 'fhir/r4.js';
import { renderNarrative } from './render-narrative.js';

export const US_CORE_PATIENT = 'http://hl7.org/fhir/us/core/StructureDefinition/us-core-patient';
/** Where the canonicals of US Core begin. */
const US_CORE = 'http://hl7.org/fhir/us/core/';
const DATA_ABSENT_REASON = 'http://hl7.org/fhir/StructureDefinition/data-absent-reason';

/** One kept version of a patient. */
export interface PatientVersion {
  readonly id: string;
  readonly version: number;
  /** Commit stamp in ms since the epoch: `meta.lastUpdated`. */
  readonly stampMs: number;
  /** As it was registered. */
  readonly resource: Patient;
}

/**
 * The Patient resource of a version. What was registered passes through, except:
 * - `id`, `meta.versionId`, `meta.lastUpdated` and `meta.profile` are ours to state;
 * - the narrative is written anew: the sender's is markup that nobody here has judged;
 * - a missing name or gender is said to be unknown, in the way that US Core 9.0.0 prescribes for
 *   mandatory elements (General Requirements, "Missing Data").
 */
export function renderPatient({ id, version, stampMs, resource }: PatientVersion): Patient {
  const known: Patient = {
    ...resource,
    name: (resource.name ?? [{}]).map(withAbsentReason),
    gender: resource.gender ?? 'unknown',
  };
  const own = {
    resourceType: 'Patient' as const,
    id,
    meta: renderMeta(known, version, stampMs),
    text: renderNarrative([describe(known)], 'en'),
  };
  // Twice: the first sets the order of the members, the second their values.
  return { ...own, ...known, ...own };
}

function renderMeta(patient: Patient, version: number, stampMs: number): Meta {
  const { security, tag } = patient.meta ?? {};
  return {
    versionId: String(version),
    lastUpdated: new Date(stampMs).toISOString(),
    ...(meetsUsCore(patient) ? { profile: [US_CORE_PATIENT] } : {}),
    ...(security === undefined ? {} : { security }),
    ...(tag === undefined ? {} : { tag }),
  };
}

function hasParts(name: HumanName): boolean {
  return name.family !== undefined || name.given !== undefined;
}

function saysAbsent(name: HumanName): boolean {
  return (name.extension ?? []).some((extension) => extension.url === DATA_ABSENT_REASON);
}

/** US Core invariant us-core-6: a name has a part, or says why it has none. */
function withAbsentReason(name: HumanName): HumanName {
  if (hasParts(name) || saysAbsent(name)) return name;
  const reason = { url: DATA_ABSENT_REASON, valueCode: 'unknown' };
  return { ...name, extension: [...(name.extension ?? []), reason] };
}

/** Extensions are the only things in a registered Patient with a `url`. */
function hasUsCoreExtension(value: unknown): boolean {
  if (typeof value !== 'object' || value === null) return false;
  const { url } = value as { readonly url?: unknown };
  if (typeof url === 'string' && url.startsWith(US_CORE)) return true;
  return Object.values(value).some(hasUsCoreExtension);
}

/**
 * The mandatory elements of US Core Patient 9.0.0, name and gender being supplied above. Nobody here
 * checks extensions of US Core (race, ethnicity, …): a Patient that has one is not vouched for.
 */
function meetsUsCore(patient: Patient): boolean {
  const identifiers = patient.identifier ?? [];
  return (
    !hasUsCoreExtension(patient) &&
    identifiers.length > 0 &&
    identifiers.every(({ system, value }) => system !== undefined && value !== undefined) &&
    (patient.name ?? []).every((name) => hasParts(name) !== saysAbsent(name)) &&
    (patient.telecom ?? []).every(
      ({ system, value }) => system !== undefined && value !== undefined,
    )
  );
}

function describe(patient: Patient): string {
  const name = patient.name?.[0];
  const parts = [...(name?.given ?? []), name?.family ?? ''].join(' ').trim();
  const identifiers = (patient.identifier ?? []).map(({ system, value }) =>
    [value, system === undefined ? '' : `(${system})`].join(' ').trim(),
  );
  return [
    name?.text ?? (parts === '' ? 'name unknown' : parts),
    `gender ${patient.gender ?? 'unknown'}`,
    `born ${patient.birthDate ?? 'on an unknown date'}`,
    ...identifiers,
  ].join(', ');
}
