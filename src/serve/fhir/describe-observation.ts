import { CATALOGUE } from '../../vitals/catalogue.js';
import {
  consciousnessConcept,
  methodConcept,
  positionConcept,
  siteConcept,
} from '../../vitals/codes.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { AbsentReason, Interpretation, ObservationStatus, Part } from '../../vitals/words.js';
import { isSignalDoubtful } from '../../vitals/settled.js';
import { isInError } from './render-value.js';

export const STATUS_WORDS: Readonly<Record<ObservationStatus, string>> = {
  preliminary: 'Preliminary.',
  final: 'Final.',
  amended: 'Final, amended.',
  corrected: 'Final, corrected.',
  'entered-in-error': 'ENTERED IN ERROR: not to be used.',
  cancelled: 'Not measured.',
};

const INTERPRETATION_WORDS: Readonly<Record<Interpretation, string>> = {
  LL: 'critically low',
  L: 'low',
  N: 'normal',
  H: 'high',
  HH: 'critically high',
};

const ABSENT_WORDS: Readonly<Record<AbsentReason, string>> = {
  'not-done': 'not done',
  refused: 'refused by the patient',
  'not-possible': 'not possible',
};

/**
 * The sentences of the narrative. FHIR R4 §2.4: it must be safe to read it alone, so how far the
 * value is to be trusted comes first, and notes are repeated by the caller. `takenAt` is a FHIR dateTime.
 */
export function describeObservation(
  version: ReadingVersion,
  status: ObservationStatus,
  takenAt: string,
): string[] {
  return [
    `${describeTrust(version, status)} ${CATALOGUE[version.vital].display}: ${describeValue(version)}.`,
    `${describeCircumstances(version, takenAt)}.`,
  ];
}

type PreliminaryReason = 'unconfirmed' | 'unreviewed' | 'doubtful-signal';

const REASON_WORDS: Readonly<Record<PreliminaryReason, string>> = {
  unconfirmed: 'UNCONFIRMED: doubted, held for review.',
  unreviewed: 'UNREVIEWED: sent by an unattended device.',
  'doubtful-signal': 'DOUBTFUL SIGNAL: the device itself is not sure of it.',
};

/**
 * Why an Observation is preliminary: one reason at least; none for any other status. A signal that a
 * person has looked at is still a doubtful one.
 */
export function reasonsOfPreliminary(
  { verdict, report }: ReadingVersion,
  status: ObservationStatus,
): readonly PreliminaryReason[] {
  if (status !== 'preliminary') return [];
  const reasons: PreliminaryReason[] = [];
  if (verdict === 'held') reasons.push('unconfirmed');
  else if (report?.reviewed !== true) reasons.push('unreviewed');
  if (isSignalDoubtful(report)) reasons.push('doubtful-signal');
  return reasons;
}

/** How far the value is to be trusted. */
export function describeTrust(version: ReadingVersion, status: ObservationStatus): string {
  if (status !== 'preliminary') return STATUS_WORDS[status];
  return reasonsOfPreliminary(version, status)
    .map((reason) => REASON_WORDS[reason])
    .join(' ');
}

function describeValue(version: ReadingVersion): string {
  const { absent, code, vital } = version;
  if (absent !== null) return ABSENT_WORDS[absent];
  if (code !== null) return consciousnessConcept(code).text;
  const { parts } = CATALOGUE[vital];
  if (parts.length === 0) return describeNumber(version, 'value');
  return parts
    .filter(({ part }) => part !== 'mean' || version.values.mean !== undefined)
    .map(({ part }) => `${part} ${describeNumber(version, part)}`)
    .join(', ');
}

function describeNumber(version: ReadingVersion, part: Part): string {
  if (isInError(version, part)) return 'in error';
  const text = version.values[part];
  if (text === undefined) return 'not measured';
  const interpretation = version.interpretation[part];
  const words = interpretation === undefined ? '' : ` (${INTERPRETATION_WORDS[interpretation]})`;
  return `${text} ${CATALOGUE[version.vital].unitText}${words}`;
}

/** Whose it is, when and how it was taken, and by whom. */
export function describeCircumstances(version: ReadingVersion, takenAt: string): string {
  const { vital, method, site, side, position, recorder, device } = version;
  return [
    `Patient ${version.patient.identifier.value}`,
    `taken ${takenAt}`,
    method === null ? '' : `method: ${methodConcept(method).text}`,
    labelled('site', siteConcept(vital, site, side)?.text),
    position === null ? '' : `position: ${positionConcept(position).text}`,
    labelled('recorded by', recorder?.value),
    labelled('device', device?.value),
  ]
    .filter((words) => words !== '')
    .join('; ');
}

function labelled(label: string, words: string | undefined): string {
  return words === undefined ? '' : `${label}: ${words}`;
}
