/** What a delivery comes to: sets for the pipeline, and what is told about each entry. */
import type { UnreadReason } from '../../vitals/device-report.js';
import type {
  DeliveredPatient,
  DeliveredSet,
  Identifier,
  IncomingReading,
} from '../../vitals/shapes.js';
import type { FhirFault } from './fhir-fault.js';
import type { KnownPatient } from './register.js';

/** A device, or a part of one, that was told by a resource of its own. */
export interface ToldDevice {
  readonly resourceType: 'Device' | 'DeviceMetric';
  /** The device with an identifier that it is or belongs to. */
  readonly identifier: Identifier;
  /** Types from that device down to the part, by a slash; '' is the device itself. */
  readonly path: string;
  readonly test: boolean;
  readonly setting: boolean;
}

/** What is said of an Observation that was sent before: it is corrected, or was entered in error. */
export interface Amendment {
  readonly action: 'correct' | 'withdraw';
  readonly patient: DeliveredPatient | null;
  /** As it should have been; of a withdrawal, as far as it tells which one is meant. */
  readonly reading: IncomingReading;
  /** What it comes to if nothing of the kind was sent before. */
  readonly otherwise: DeliveredSet;
}

export type EntryFate =
  /** It brings readings: at these places, its own first. */
  | { readonly kind: 'reading'; readonly places: readonly [number, ...number[]] }
  | { readonly kind: 'amendment'; readonly amendment: Amendment }
  /** It brings none; kept for the analyst. */
  | { readonly kind: 'unread'; readonly reason: UnreadReason; readonly message: string }
  /** It has told something about other entries, or only repeats them. */
  | { readonly kind: 'used'; readonly message: string }
  /** Null: nobody has registered the patient. */
  | { readonly kind: 'patient'; readonly known: KnownPatient | null }
  | { readonly kind: 'device'; readonly told: ToldDevice }
  | { readonly kind: 'refused'; readonly faults: readonly [FhirFault, ...FhirFault[]] };

/** A device's own time and the time of its gateway at the same moment, in ms since the epoch. */
export interface ClockPair {
  readonly device: Identifier;
  readonly deviceMs: number;
  readonly trueMs: number;
}

export interface Delivery {
  /** Without what is refused. */
  readonly sets: readonly DeliveredSet[];
  /** From coincident time stamps. */
  readonly clocks: readonly ClockPair[];
  /** One an entry, in their order. */
  readonly fates: readonly EntryFate[];
}
