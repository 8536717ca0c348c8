import type { ClaimedPatient, IncomingReading } from './shapes.js';

/** What a person may decide about one reading. */
export const DECISION_ACTIONS = ['release', 'correct', 'reject', 'withdraw', 'assign'] as const;
export type DecisionAction = (typeof DECISION_ACTIONS)[number];

/** What the sender of a set may decide about its own readings. */
export const OWN_DECISION_ACTIONS = [
  'correct',
  'withdraw',
] as const satisfies readonly DecisionAction[];

/** Why, in words that can be counted; the person's own sentence stands beside it. */
export const REASON_CODES = [
  'confirmed-at-bedside',
  'entry-error',
  'unit-error',
  'method-or-site-error',
  'time-error',
  'wrong-patient',
  'identity-confirmed',
  'device-fault',
  'poor-signal',
  'duplicate',
  'other',
] as const;
export type ReasonCode = (typeof REASON_CODES)[number];

/** One decision about one reading, as it was sent. */
export interface Decision {
  readonly action: DecisionAction;
  /** 1 to 500 characters. */
  readonly reason: string;
  readonly reasonCode: ReasonCode;
  /** Version of the reading that the person saw; any other by now, and the decision is stale. */
  readonly expectedVersion: number;
  /** The whole reading as it should have been; `correct` only. */
  readonly reading?: IncomingReading;
  /** The patient whose reading it is; `assign`, or `correct` of one under the wrong patient. */
  readonly patient?: ClaimedPatient;
}
