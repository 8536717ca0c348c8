/** What a device's message tells of a reading beyond its value: the words shared by intake, rules and renderer. */
import type { Identifier } from './identifier.js';

/**
 * What the reader of a message cannot vouch for. A rule of the same name in `rules/report/` words each and
 * says what it costs.
 */
export const REPORT_DOUBTS = [
  // Nothing to file: rejected.
  'test-data',
  'setting-not-measurement',
  'value-unreadable',
  // A value that may be another's, another sign's or of another time: held.
  'code-name-mismatch',
  'codes-disagree',
  'status-unclear',
  'value-not-plain',
  'values-conflict',
  'site-unclear',
  'typed-in-value',
  'time-missing',
  'time-imprecise',
  'time-zone-missing',
  'clock-unset',
  'clock-stepped',
  'character-set-broken',
  // Told beside the value: noted.
  'code-by-name-only',
  'time-to-minute-only',
  'control-id-reused',
  'original-not-found',
] as const;
export type ReportDoubt = (typeof REPORT_DOUBTS)[number];

/** How good the device itself says its signal is (IEEE 11073 measurement status). */
export const SIGNAL_DOUBTS = ['questionable', 'calibrating', 'early'] as const;
export type SignalDoubt = (typeof SIGNAL_DOUBTS)[number];

/** What a device's message told of one reading. A set typed by a person has none. */
export interface DeviceReport {
  /** Where it stands in the message, for people: `OBX 4`, `entry 2`. */
  readonly at: string;
  /**
   * Which of the device's own measuring channels it came from, where it has several (an OBX-4 path, a
   * DeviceMetric): two probes of one device are two things. Means nothing beyond this message.
   */
  readonly channel?: string;
  readonly doubts?: readonly ReportDoubt[];
  /** The value as sent, where it could not be read as one; at most 200 characters. */
  readonly asSent?: string;
  /** Validated, or an operator stands by it; false: neither. Absent: the source's registration decides. */
  readonly reviewed?: boolean;
  readonly signal?: readonly SignalDoubt[];
  /** What the device's own clock showed (RFC 3339), where that is not the time of the reading. */
  readonly deviceTime?: string;
  /** Business identifiers that the sender gave it. */
  readonly identifiers?: readonly Identifier[];
  /** It is to be taken only if nothing is kept under any of these: else what is kept stands for it. */
  readonly unlessKept?: readonly Identifier[];
}

/** What makes it doubtful whose readings a message brings. A rule of the same name words each. */
export const IDENTITY_DOUBTS = [
  'identity-declared-unknown',
  'authority-missing',
  'identifiers-conflict',
] as const;
export type IdentityDoubt = (typeof IDENTITY_DOUBTS)[number];

/** A row of a message that brings no reading: nobody knows its code, or it lacks what a reading needs. */
export interface UnreadRow {
  /** Where it stands, as in {@link DeviceReport.at}. */
  readonly at: string;
  readonly reason: UnreadReason;
  /** In a sentence, for the analyst. */
  readonly message: string;
  readonly code?: { readonly system?: string; readonly code: string; readonly name?: string };
  readonly unit?: string;
  /** The value as sent, at most 200 characters. */
  readonly value?: string;
}

/** Of these only `code-unmapped` is worth a replay once a mapping is there. */
export const UNREAD_REASONS = [
  'code-unmapped',
  'not-a-vital-sign',
  'no-value',
  'original-not-found',
] as const;
export type UnreadReason = (typeof UNREAD_REASONS)[number];
