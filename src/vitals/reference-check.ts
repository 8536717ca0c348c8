import type { IncomingReading, Identifier, WrittenNumber } from './shapes.js';
import type { Part } from './words.js';

/** What gives the known value. */
export const REFERENCE_KINDS = ['practice-arm', 'simulator', 'calibrated-device'] as const;
export type ReferenceKind = (typeof REFERENCE_KINDS)[number];

/** How far a reading may lie from the known value: percent of that value, or in the canonical unit. */
export type ReferenceTolerance = { readonly percent: number } | { readonly amount: number };

/** A reading against a known value, as it was sent. */
export interface IncomingReferenceCheck {
  readonly kind: ReferenceKind;
  readonly takenAt?: string;
  readonly recorder?: { readonly identifier: Identifier };
  readonly reading: IncomingReading;
  readonly setValue: Readonly<Partial<Record<Part, WrittenNumber>>> & { readonly unit?: string };
  readonly tolerance?: { readonly percent?: number; readonly amount?: number };
}

/** One part held against its known value. Decimals as text in the canonical unit of the sign. */
export interface ReferencePart {
  readonly part: Part;
  readonly set: string;
  readonly read: string;
  /** Read minus set. */
  readonly difference: string;
  readonly tolerance: ReferenceTolerance & { readonly source: string };
  readonly passed: boolean;
}
