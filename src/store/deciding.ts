/** What a decision is asked with, and what it needs from the stages. */
import type { Decision, DecisionAction } from '../vitals/decisions.js';
import type { IncomingReading, Moment, Reading } from '../vitals/shapes.js';
import type { HoldKind, ObservationStatus, Position, Verdict } from '../vitals/words.js';
import type { Judging } from './commit-sets.js';
import type { Envelope } from './submission-records.js';

/** What a decision leads to; which one is possible in which state is for the verdict stage to say. */
export type DecisionEffectName =
  'publish' | 'judge' | 'correct' | 'assign' | 'reject' | 'reject-published' | 'withdraw';

/** What deciding needs from the stages beyond judging. */
export interface Deciding extends Judging {
  readonly decisionEffect: (
    action: DecisionAction,
    state: {
      readonly verdict: Verdict;
      readonly hold: HoldKind | null;
      readonly status: ObservationStatus | null;
    },
  ) => { readonly effect: DecisionEffectName } | { readonly refusal: string };
  /** Time and position are those that the reading had, for a correction that names no others. */
  readonly normaliseReading: (
    reading: IncomingReading,
    index: number,
    kept: { readonly takenAt: Moment; readonly position: Position | null },
  ) => Reading;
}

export interface DecisionRequest {
  readonly envelope: Envelope;
  readonly readingId: string;
  readonly decision: Decision;
  /** Set: only readings of this source can be decided about, and a doubtful value stays held. */
  readonly ownSourceKey: number | null;
}
