/** What one HL7 v2 message brings, in the gateway's own terms. */
import type {
  ClaimedPatient,
  DeliveredPatient,
  DeliveredSet,
  Identifier,
  IncomingReading,
} from '../../vitals/shapes.js';
import type { Gender } from '../../vitals/words.js';
import type { Hl7Fault } from './fault.js';

export type Hl7Delivery = ObservationDelivery | AssociationDelivery | PatientDelivery;

interface Delivery {
  /** MSH-11 is D or T (HL7 table 0103): nothing in it is about a real patient. */
  readonly test: boolean;
  /** What could not be understood, where, beside the parser's own faults. Severity E: something was left out. */
  readonly faults: readonly Hl7Fault[];
}

export interface ObservationDelivery extends Delivery {
  readonly kind: 'observations';
  /** One for each patient and operator, in the order of the message. */
  readonly sets: readonly DeliveredSet[];
  readonly amendments: readonly Amendment[];
  readonly clockPairs: readonly ClockPair[];
}

/** OBX-11 by which a row speaks of an earlier one: correction, deletion, wrong, final now (HL7 table 0085). */
export type AmendingStatus = 'C' | 'D' | 'W' | 'U';

/**
 * What a row says of a reading that was sent before. `reading` tells which: sign, method, place, device and
 * time, each as far as told; a correction brings the new value with it.
 */
export interface Amendment extends Pick<DeliveredSet, 'patient' | 'encounter' | 'recorder'> {
  readonly kind: 'correct' | 'withdraw' | 'finalise';
  readonly status: AmendingStatus;
  readonly reading: IncomingReading;
}

/** The clock of a device and the true time, seen together (MDC_ATTR_TIME_ABS). Ms since the epoch. */
export interface ClockPair {
  readonly device: Identifier;
  readonly deviceTimeMs: number;
  readonly reporterTimeMs: number;
}

export interface AssociationDelivery extends Delivery {
  readonly kind: 'associations';
  readonly associations: readonly AssociationNews[];
}

/** That a device became a patient's, or ceased to be (IHE Point-of-Care Identity Management). */
export interface AssociationNews {
  readonly kind: 'associate' | 'disassociate';
  /** Where it stands, for people. */
  readonly at: string;
  readonly device: Identifier;
  /** Null at the end of an association only: whoever it was. */
  readonly patient: DeliveredPatient | null;
  /** RFC 3339: from then on, or until then. */
  readonly time: string;
  /** False: somebody has to confirm it. */
  readonly validated: boolean;
  /** Who said so. */
  readonly recorder?: { readonly identifier: Identifier };
  readonly location?: string;
}

export interface PatientDelivery extends Delivery {
  readonly kind: 'patient-event';
  /** One, save that an A40 may merge several pairs. */
  readonly events: readonly PatientEvent[];
}

/** Trigger events of ADT messages that the gateway reads (HL7 v2.9.1 chapter 3). */
export const PATIENT_EVENTS = {
  A01: 'admitted',
  A02: 'transferred',
  A03: 'discharged',
  A04: 'registered',
  A08: 'updated',
  A11: 'admission-cancelled',
  A12: 'transfer-cancelled',
  A13: 'discharge-cancelled',
  A40: 'merged',
} as const;
export type PatientEventKind = (typeof PATIENT_EVENTS)[keyof typeof PATIENT_EVENTS];

/** Null where the sender wants it deleted; absent: no statement. */
export interface PatientFacts extends Pick<ClaimedPatient, 'identifier'> {
  readonly others: readonly Identifier[];
  readonly doubts: NonNullable<DeliveredPatient['doubts']>;
  readonly familyName?: string | null;
  readonly givenNames?: readonly string[] | null;
  /** FHIR date: YYYY, YYYY-MM or YYYY-MM-DD. */
  readonly birthDate?: string | null;
  readonly gender?: Gender;
}

export interface PatientEvent {
  readonly kind: PatientEventKind;
  readonly patient: PatientFacts;
  /** RFC 3339; null: it is not told, or not in a form that names a moment. */
  readonly time: string | null;
  readonly encounter?: { readonly identifier: Identifier };
  readonly location?: string;
  readonly priorLocation?: string;
  /** A40: the identifiers that are no longer used (MRG-1). Empty for the other events. */
  readonly prior: readonly Identifier[];
}
