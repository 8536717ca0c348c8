/** What the hospital's register tells of patients by message: registration, stays, merges. */
import type { PatientEvent, PatientEventKind } from '../intake/hl7v2/delivery.js';
import { findRegisteredResource } from '../store/find-registered.js';
import { mergePatients } from '../store/merge-patients.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import { registerPatient } from '../store/register-patient.js';
import { changeStay } from '../store/stays.js';
import type { StayChange } from '../store/stays.js';
import { patientOfEvent } from './patient-of-event.js';

export interface PatientEventServices {
  readonly pool: Pool;
  readonly names: Names;
  /** Sets that wait for a patient may go on. */
  readonly onPatientsChanged: () => void;
}

/** Why an event could not be carried out whole, in a sentence without a patient's data; null: it was. */
export type EventFault = string | null;

/** Two registrations at one moment: the second reads again what the first has written. */
const ATTEMPTS = 3;

const REGISTERING: ReadonlySet<PatientEventKind> = new Set([
  'admitted',
  'transferred',
  'registered',
  'updated',
  'merged',
]);

const STAY_CHANGES: Readonly<Partial<Record<PatientEventKind, StayChange>>> = {
  admitted: 'begins',
  registered: 'begins',
  transferred: 'moves',
  discharged: 'ends',
  'admission-cancelled': 'never-began',
  'transfer-cancelled': 'never-moved',
  'discharge-cancelled': 'never-ended',
};

/**
 * Carries one event out: the patient is registered or brought up to date, the stay changes, devices of a
 * patient who left are nobody's, merged registrations become one.
 *
 * @param submissionId of the message, which must be on disk
 * @param receivedAtMs stands for the time of an event that tells none
 */
export async function applyPatientEvent(
  services: PatientEventServices,
  event: PatientEvent,
  submissionId: string,
  receivedAtMs: number,
): Promise<EventFault> {
  const [doubt] = event.patient.doubts;
  if (doubt !== undefined) return DOUBT_WORDS[doubt];
  const known = [event.patient.identifier, ...event.patient.others];
  if (REGISTERING.has(event.kind)) {
    const fault = await register(services, event, submissionId);
    if (fault !== null) return fault;
  }
  if (event.kind === 'merged') {
    const fault = await merge(services, event, submissionId);
    if (fault !== null) return fault;
  }
  services.onPatientsChanged();
  const change = STAY_CHANGES[event.kind];
  if (change === undefined) return null;
  // A visit without a place, as of an outpatient, is kept too; a registration alone begins no stay.
  if (change === 'begins' && event.location === undefined && event.encounter === undefined) {
    return null;
  }
  const [patient] = known;
  if (patient === undefined) return null;
  const outcome = await changeStay(services.pool, services.names, {
    patient,
    change,
    atMs: event.time === null ? receivedAtMs : Date.parse(event.time),
    encounter: event.encounter?.identifier ?? null,
    location: event.location ?? null,
    submissionId,
  });
  return outcome.kind === 'done' ? null : OUTCOME_WORDS[outcome.kind];
}

const DOUBT_WORDS = {
  'identity-declared-unknown': 'The message says that nobody knows who the patient is.',
  'authority-missing': 'A patient identifier names no assigning authority, and none is registered.',
  'identifiers-conflict': 'The patient identifiers are of different patients.',
} as const;

const OUTCOME_WORDS = {
  'patient-unknown': 'The patient is not registered here.',
  'visit-of-another': 'The visit is another patient’s.',
} as const;

/** What the message does not state stays as it is registered. */
async function register(
  { pool }: PatientEventServices,
  event: PatientEvent,
  submissionId: string,
): Promise<EventFault> {
  for (let attempt = 1; attempt <= ATTEMPTS; attempt += 1) {
    const identifiers = [event.patient.identifier, ...event.patient.others];
    const before = await findRegisteredResource(pool, identifiers);
    const statement = patientOfEvent(event.patient, before?.resource ?? null);
    const result = await registerPatient(pool, {
      ...statement,
      matching: identifiers,
      claimedId: null,
      expectedVersion: before?.version ?? null,
      clientKey: null,
      submissionId,
    });
    if ('version' in result) return null;
    if (result.outcome !== 'stale-version') {
      return 'The patient identifiers are of different registered patients; merge them first.';
    }
  }
  return 'The registration changed again and again meanwhile; send the message again.';
}

async function merge(
  { pool }: PatientEventServices,
  event: PatientEvent,
  submissionId: string,
): Promise<EventFault> {
  for (const retired of event.prior) {
    const outcome = await mergePatients(pool, {
      retired,
      survivor: event.patient.identifier,
      reason: 'The hospital’s register merged the two.',
      clientKey: null,
      personKey: null,
      submissionId,
    });
    if (outcome.kind === 'unknown') {
      if (outcome.which === 'survivor') return OUTCOME_WORDS['patient-unknown'];
      const others = [...event.patient.others, retired];
      const patient = { ...event.patient, others };
      const fault = await register(
        { pool } as PatientEventServices,
        { ...event, patient },
        submissionId,
      );
      if (fault !== null) return fault;
    }
  }
  return null;
}
