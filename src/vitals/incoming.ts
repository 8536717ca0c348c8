/** What protocols deliver: words checked, nothing converted. The first of the shapes in `shapes.ts`. */
import type { DeviceReport, IdentityDoubt, UnreadRow } from './device-report.js';
import type { Identifier } from './identifier.js';
import type {
  AbsentReason,
  ConsciousnessCode,
  CuffSize,
  Method,
  Position,
  Side,
  Site,
  Vital,
} from './words.js';

export type { Identifier };

/** A point in time together with the offset (minutes east of UTC) in which it was told. */
export interface Moment {
  readonly epochMs: number;
  readonly offsetMinutes: number;
}

/** Circumstances of one reading, as the contract names them. Lengths in cm, pressure in mm[Hg], waits in minutes. */
export interface ReadingContext {
  readonly confirmed?: boolean;
  readonly regular?: boolean;
  readonly cuffSize?: CuffSize;
  readonly armCircumferenceCm?: number;
  readonly armAtHeartLevel?: boolean;
  readonly inflatedTo?: number;
  readonly minutesSinceHotDrink?: number;
  readonly minutesSinceColdDrink?: number;
}

/** One fault of a body: where it is (RFC 6901 pointer) and what is wrong, in words for a person. */
export interface Fault {
  readonly pointer: string;
  readonly message: string;
}

/** A number as it was written: a JSON number, or a decimal string whose trailing zeros count. */
export type WrittenNumber = number | string;

/** One reading as a protocol delivered it: words checked against the contract, nothing converted. */
export interface IncomingReading extends ReadingContext {
  readonly vital: Vital;
  readonly method?: Method;
  readonly site?: Site;
  readonly side?: Side;
  readonly position?: Position;
  readonly value?: WrittenNumber;
  readonly systolic?: WrittenNumber;
  readonly diastolic?: WrittenNumber;
  readonly mean?: WrittenNumber;
  /** As sent; whether it is a known unit is decided by `normalise`, and costs this reading only. */
  readonly unit?: string;
  readonly count?: number;
  readonly seconds?: number;
  readonly code?: ConsciousnessCode;
  readonly absent?: AbsentReason;
  readonly device?: {
    readonly identifier: Identifier;
    /** What it is a part of, from the inside out, as a device's message tells: a module, then its monitor. */
    readonly within?: readonly Identifier[];
  };
  readonly takenAt?: string;
  readonly note?: string;
  /** Its place in the submission, counted from 0; absent: its place in the list. */
  readonly index?: number;
  /** Only from the message of a device. */
  readonly report?: DeviceReport;
}

/** Who the sender says the patient is. */
export interface ClaimedPatient {
  readonly identifier: Identifier;
  readonly birthDate?: string;
  readonly familyName?: string;
}

/** One set as a protocol delivered it. */
export interface IncomingSet {
  readonly setId: string;
  readonly patient: ClaimedPatient;
  readonly encounter?: { readonly identifier: Identifier };
  readonly takenAt: string;
  readonly recorder?: { readonly identifier: Identifier };
  readonly location?: string;
  readonly position?: Position;
  readonly readings: readonly IncomingReading[];
}

/**
 * One set as a device's message delivered it: wider than the set that a person types. What may be missing
 * is looked up by the gateway (whose the device was) or marked (when it arrived stands for when it was).
 */
export interface DeliveredSet extends Omit<IncomingSet, 'setId' | 'patient' | 'takenAt'> {
  /** Null: the message names nobody; whose the device was at that time decides. */
  readonly patient: DeliveredPatient | null;
  /** Null: no reading without a time of its own has one. */
  readonly takenAt: string | null;
  /** Rows that brought no reading, each at its place in the submission. */
  readonly unread?: readonly (UnreadRow & { readonly index: number })[];
}

export interface DeliveredPatient extends ClaimedPatient {
  /** Further identifiers of the same person, as the message says. */
  readonly others?: readonly Identifier[];
  readonly doubts?: readonly IdentityDoubt[];
}
