/** Follows the references of a reading: whose it is, what measured it, who recorded it, at which visit. */
import type { Observation } from 'fhir/r4.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { DeliveredPatient, Identifier } from '../../vitals/shapes.js';
import { extensionOf } from './extensions.js';
import type { Faults } from './fhir-fault.js';
import { IDENTIFIER_RULE, readIdentifier } from './identifiers.js';
import { asReference, findDevice } from './read-device.js';
import { findPatient } from './read-patient.js';
import { readStamp, type Stamp } from './read-stamp.js';
import type { Home, ReferenceMap, SentReference } from './references.js';
import type { KnownDevice, Register } from './register.js';
import { asList, type Surroundings } from './sent-entry.js';

export interface ResolvedReferences {
  /** Null: it names nobody; whose the device was decides. */
  readonly patient: DeliveredPatient | null;
  readonly device: KnownDevice | null;
  readonly encounter: Identifier | null;
  readonly recorder: Identifier | null;
  readonly stamp: Stamp | null;
  readonly doubts: readonly ReportDoubt[];
  readonly notes: readonly string[];
}

export interface Resolving {
  readonly references: ReferenceMap;
  readonly register: Register;
  readonly around: Surroundings;
}

export function resolveReferences(
  observation: Observation,
  home: Home,
  resolving: Resolving,
  faults: Faults,
): ResolvedReferences {
  const patient = resolvePatient(observation, home, resolving, faults);
  const device = resolveDevice(observation, home, resolving, faults);
  if (observation.subject === undefined && observation.device === undefined) {
    faults.refuse('subject', 'required', 'subject must be there, or a device that is somebody’s.');
  }
  const { recorder, notes } = resolvePerformers(observation, patient, home, resolving, faults);
  return {
    patient,
    device,
    encounter: resolveNamed(
      'encounter',
      'Encounter',
      observation.encounter,
      home,
      resolving,
      faults,
    ),
    recorder,
    stamp: resolveStamp(observation, home, resolving, faults),
    doubts: [
      ...(device?.test === true ? (['test-data'] as const) : []),
      ...(device?.setting === true ? (['setting-not-measurement'] as const) : []),
    ],
    notes,
  };
}

function resolvePatient(
  { subject }: Observation,
  home: Home,
  { references, register, around }: Resolving,
  faults: Faults,
): DeliveredPatient | null {
  if (subject === undefined) return null;
  const { defaultAuthority } = around.profile;
  const found = findPatient(asReference(subject), home, references, register, defaultAuthority);
  if ('patient' in found) return found.patient;
  const several = found.several === true;
  faults.refuse(
    'subject',
    several ? 'multiple-matches' : 'not-found',
    `subject ${found.why}.`,
    several ? 412 : 422,
  );
  return null;
}

function resolveDevice(
  { device }: Observation,
  home: Home,
  { references, register }: Resolving,
  faults: Faults,
): KnownDevice | null {
  if (device === undefined) return null;
  const found = findDevice(asReference(device), home, references, register);
  if ('device' in found) return found.device;
  faults.refuse('device', 'not-found', `device ${found.why}.`);
  return null;
}

/** Somebody, or a visit, by a business identifier: of these there are no resources here. */
function resolveNamed(
  path: string,
  type: 'Encounter' | 'Practitioner',
  sent: unknown,
  home: Home,
  { references }: Resolving,
  faults: Faults,
): Identifier | null {
  if (sent === undefined) return null;
  const located = references.locate(asReference(sent), home);
  if (located.in === 'name') return located.identifier;
  if (located.in === 'delivery' && located.resource.resourceType === type) {
    const [identifier] = asList(located.resource.identifier).flatMap(
      (one) => readIdentifier(one) ?? [],
    );
    if (identifier !== undefined) return identifier;
  }
  const why =
    located.in === 'nowhere' ? located.why : `must lead to a ${type} by ${IDENTIFIER_RULE}`;
  faults.refuse(path, 'not-found', `${path} ${why}.`);
  return null;
}

const MEASURED_BY_PATIENT = 'Measured by the patient';

function resolvePerformers(
  { performer = [], subject }: Observation,
  patient: DeliveredPatient | null,
  home: Home,
  resolving: Resolving,
  faults: Faults,
): Pick<ResolvedReferences, 'recorder' | 'notes'> {
  let recorder: Identifier | null = null;
  const notes: string[] = [];
  performer.forEach((one, i) => {
    const path = `performer[${i}]`;
    const sent = asReference(one);
    const type = typeOf(sent, home, resolving);
    if (type === 'Patient') {
      const same =
        sent.reference === undefined || sent.reference !== subject?.reference
          ? isSame(sent, patient, home, resolving)
          : true;
      if (same) notes.push(MEASURED_BY_PATIENT);
      else faults.refuse(path, 'business-rule', `${path} is a patient and not the subject.`);
    } else if (type !== undefined && type !== 'Practitioner') {
      faults.refuse(path, 'not-supported', `${path} is neither a Practitioner nor the patient.`);
    } else if (recorder !== null) {
      faults.refuse(path, 'not-supported', `${path} is a second person; one is kept.`);
    } else recorder = resolveNamed(path, 'Practitioner', one, home, resolving, faults);
  });
  return { recorder: ownRecorder(recorder, resolving.around.person, faults), notes };
}

/** What a person sends, that person recorded. */
function ownRecorder(
  named: Identifier | null,
  person: Identifier | null,
  faults: Faults,
): Identifier | null {
  if (person === null || named === null) return named ?? person;
  if (named.system !== person.system || named.value !== person.value) {
    const text = 'performer names somebody else than the person who signed in; leave it out.';
    faults.refuse('performer', 'business-rule', text);
  }
  return person;
}

/** The type of what a reference leads to; undefined: it does not tell. */
function typeOf(sent: SentReference, home: Home, { references }: Resolving): string | undefined {
  const located = references.locate(sent, home);
  if (located.in === 'delivery') return String(located.resource.resourceType);
  return located.in === 'server' || located.in === 'search' ? located.type : sent.type;
}

function isSame(
  sent: SentReference,
  patient: DeliveredPatient | null,
  home: Home,
  { references, register, around }: Resolving,
): boolean {
  const { defaultAuthority } = around.profile;
  const found = findPatient(sent, home, references, register, defaultAuthority);
  if (!('patient' in found) || patient === null) return false;
  const { system, value } = found.patient.identifier;
  return system === patient.identifier.system && value === patient.identifier.value;
}

function resolveStamp(
  observation: Observation,
  home: Home,
  { references }: Resolving,
  faults: Faults,
): Stamp | null {
  const sent = extensionOf(observation, 'stamp')?.valueReference;
  if (sent === undefined) return null;
  const located = references.locate(asReference(sent), home);
  const stamp = located.in === 'delivery' ? readStamp(located.resource) : undefined;
  if (stamp === undefined) {
    const text = 'extension of the coincident time stamp leads to none that was sent along.';
    faults.refuse('extension', 'not-found', text);
  }
  return stamp ?? null;
}
