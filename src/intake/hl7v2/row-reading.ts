import type { CodedSign } from '../../vitals/coded-sign.js';
import type { ReportDoubt, SignalDoubt, UnreadRow } from '../../vitals/device-report.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { ConsciousnessCode } from '../../vitals/words.js';
import type { PlacedRow } from './containment.js';
import type { AmendingStatus } from './delivery.js';
import type { ToldTime } from './read-moment.js';
import type { SignPlace } from './read-site.js';

/** One row that tells of a sign, before the parts of a pressure are put together. */
export interface RowReading {
  readonly row: PlacedRow;
  /** `standing`: a reading of its own; else what it says of an earlier one. */
  readonly status: 'standing' | AmendingStatus;
  /** With the method of a person, where one measured. */
  readonly sign: CodedSign;
  /** Digits; absent: none, or unreadable. */
  readonly value?: string;
  readonly code?: ConsciousnessCode;
  /** The value as sent where it could not be read. */
  readonly asSent?: string;
  readonly unit?: string;
  readonly place: SignPlace;
  readonly devices: readonly Identifier[];
  readonly time: ToldTime;
  readonly recorder: Identifier | null;
  readonly reviewed: boolean;
  readonly doubts: readonly ReportDoubt[];
  readonly signal: readonly SignalDoubt[];
  readonly notes: readonly string[];
}

/** A row that brings no reading, and who stood by. */
export interface UnreadOutcome {
  readonly kind: 'unread';
  readonly unread: UnreadRow & { readonly index: number };
  readonly recorder: Identifier | null;
}

/** What became of one row. */
export type RowOutcome =
  | { readonly kind: 'reading'; readonly reading: RowReading }
  | UnreadOutcome
  /** It stands for the device, or for what was read elsewhere. */
  | { readonly kind: 'structure' };
