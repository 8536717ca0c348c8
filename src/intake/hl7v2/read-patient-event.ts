import type { Gender } from '../../vitals/words.js';
import {
  PATIENT_EVENTS,
  type PatientDelivery,
  type PatientEvent,
  type PatientEventKind,
  type PatientFacts,
} from './delivery.js';
import type { ErrorCondition, Hl7Fault, Hl7Location } from './fault.js';
import type { MessageScope } from './message-scope.js';
import type { Hl7Message } from './parse-message.js';
import { writeMoment } from './read-moment.js';
import {
  isUnknown,
  readDate,
  readLegalName,
  readLocation,
  readPatientIds,
} from './read-patient.js';
import type { Hl7Segment } from './segment.js';

/** One patient of an ADT message: PID with the PV1 and MRG that follow it. */
interface PatientSegments {
  readonly pid: Hl7Segment;
  pv1: Hl7Segment | null;
  mrg: Hl7Segment | null;
}

/** Reads an ADT message (HL7 v2.9.1 chapter 3): who, what happened to them, where and when. */
export function readPatientEvent(
  message: Hl7Message,
  scope: MessageScope,
): Omit<PatientDelivery, 'test'> {
  const { event } = scope.header;
  const kind = Object.hasOwn(PATIENT_EVENTS, event)
    ? PATIENT_EVENTS[event as keyof typeof PATIENT_EVENTS]
    : null;
  if (kind === null) {
    const location = message.header?.at(9, 1, 2) ?? null;
    return none([fault('201', location, 'this event is not read')]);
  }
  const patients = patientsIn(message.segments);
  if (patients.length === 0) return none([fault('100', null, 'the message has no PID')]);
  if (patients.length > 1 && kind !== 'merged') {
    const location = patients[1]?.pid.at() ?? null;
    return none([fault('198', location, 'one event is about one patient; there is a second PID')]);
  }
  const evn = message.segments.find(({ id }) => id === 'EVN') ?? null;
  const read = patients.map((patient) => readPatient(patient, kind, evn, scope));
  return {
    kind: 'patient-event',
    events: read.filter((one): one is PatientEvent => !('severity' in one)),
    faults: [...read.filter((one) => 'severity' in one), ...eventWarnings(evn, event)],
  };
}

function none(faults: readonly Hl7Fault[]): Omit<PatientDelivery, 'test'> {
  return { kind: 'patient-event', events: [], faults };
}

/** EVN-1 is kept for backward compatibility; MSH-9 says what the message is. */
function eventWarnings(evn: Hl7Segment | null, event: string): readonly Hl7Fault[] {
  const said = evn?.text(1).trim() ?? '';
  if (evn === null || said === '' || said === event) return [];
  return [{ ...fault('103', evn.at(1), 'EVN-1 names another event than MSH-9'), severity: 'W' }];
}

function patientsIn(segments: readonly Hl7Segment[]): readonly PatientSegments[] {
  const patients: PatientSegments[] = [];
  for (const segment of segments) {
    const last = patients.at(-1);
    if (segment.id === 'PID') patients.push({ pid: segment, pv1: null, mrg: null });
    else if (segment.id === 'PV1' && last !== undefined) last.pv1 ??= segment;
    else if (segment.id === 'MRG' && last !== undefined) last.mrg ??= segment;
  }
  return patients;
}

function readPatient(
  { pid, pv1, mrg }: PatientSegments,
  kind: PatientEventKind,
  evn: Hl7Segment | null,
  scope: MessageScope,
): PatientEvent | Hl7Fault {
  const { identifiers, broken } = scope;
  const patient = factsOf(pid, scope);
  if (patient === null) return fault('101', pid.at(3), 'PID-3 names no patient');
  const merged = mrg === null ? null : readPatientIds(mrg.field(1), identifiers);
  const prior = kind === 'merged' && merged !== null ? [merged.identifier, ...merged.others] : [];
  if (kind === 'merged' && (merged === null || merged.doubts.includes('authority-missing'))) {
    return fault('101', mrg?.at(1) ?? null, 'MRG-1 must say whose identifiers are no longer used');
  }
  const visit = pv1 === null ? null : identifiers.visit(pv1.field(19).repetition(1));
  const location = pv1 === null ? undefined : readLocation(pv1.field(3).repetition(1));
  const priorLocation = pv1 === null ? undefined : readLocation(pv1.field(6).repetition(1));
  return {
    kind,
    patient,
    time: timeOf(kind, evn, pv1, scope),
    ...(visit !== null && !broken && { encounter: { identifier: visit } }),
    ...(location !== undefined && !broken && { location }),
    ...(priorLocation !== undefined && !broken && { priorLocation }),
    prior,
  };
}

function factsOf(pid: Hl7Segment, { identifiers, broken }: MessageScope): PatientFacts | null {
  const named = readPatientIds(pid.field(3), identifiers);
  if (named === null) return null;
  const doubts = isUnknown(pid)
    ? ([...named.doubts, 'identity-declared-unknown'] as const)
    : named.doubts;
  const who = { identifier: named.identifier, others: named.others, doubts };
  if (broken) return who;
  return { ...who, ...nameIn(pid), ...birthIn(pid), ...genderIn(pid) };
}

function nameIn(pid: Hl7Segment): Pick<PatientFacts, 'familyName' | 'givenNames'> {
  if (pid.field(5).isDeletion) return { familyName: null, givenNames: null };
  const name = readLegalName(pid.field(5));
  return {
    ...(name?.family !== undefined && { familyName: name.family }),
    ...(name !== null && name.given.length > 0 && { givenNames: name.given }),
  };
}

function birthIn(pid: Hl7Segment): Pick<PatientFacts, 'birthDate'> {
  if (pid.field(7).isDeletion) return { birthDate: null };
  const birthDate = readDate(pid.text(7));
  return birthDate === undefined ? {} : { birthDate };
}

/** HL7 table 0001 in FHIR's words (HL7 v2-to-FHIR guide, concept map of table 0001). */
const GENDERS: ReadonlyMap<string, Gender> = new Map<string, Gender>([
  ['M', 'male'],
  ['F', 'female'],
  ['O', 'other'],
  ['A', 'other'],
  ['N', 'other'],
  ['U', 'unknown'],
]);

function genderIn(pid: Hl7Segment): Pick<PatientFacts, 'gender'> {
  if (pid.field(8).isDeletion) return { gender: null };
  const gender = GENDERS.get(pid.text(8).trim().toUpperCase());
  return gender === undefined ? {} : { gender };
}

/** When it happened: EVN-6, the times of PV1, when it was recorded, when it was sent; the first that is told. */
function timeOf(
  kind: PatientEventKind,
  evn: Hl7Segment | null,
  pv1: Hl7Segment | null,
  { header, moments }: MessageScope,
): string | null {
  const texts = [
    evn?.text(6),
    kind === 'admitted' || kind === 'registered' ? pv1?.text(44) : undefined,
    kind === 'discharged' ? pv1?.text(45) : undefined,
    evn?.text(2),
    header.sentText,
  ];
  for (const text of texts) {
    const moment = text === undefined ? null : moments.moment(text);
    if (moment !== null) return writeMoment(moment);
  }
  return null;
}

function fault(code: ErrorCondition, location: Hl7Location | null, text: string): Hl7Fault {
  return { location, code, severity: 'E', text };
}
