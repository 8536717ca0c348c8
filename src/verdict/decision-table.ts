/** Which decision is possible in which state of a reading, and what it leads to. */
import { DECISION_ACTIONS } from '../vitals/decisions.js';
import type { DecisionAction } from '../vitals/decisions.js';
import type { HoldKind, ObservationStatus, Verdict } from '../vitals/words.js';

/** What a decision finds. */
export interface DecidableState {
  readonly verdict: Verdict;
  readonly hold: HoldKind | null;
  readonly status: ObservationStatus | null;
}

export type ReadingState =
  | 'held-unpublished'
  | 'held-preliminary'
  | 'clear-preliminary'
  | 'clear-final'
  | 'rejected'
  | 'withdrawn';

/** What is to be done with the reading. */
export type DecisionEffect =
  /** Out as `final`, as it is. */
  | 'publish'
  /** Judged again with what the person gave; out as `final`. */
  | 'judge'
  /** Judged again; out as `corrected`, or `amended` when only its circumstances changed. */
  | 'correct'
  /** Judged again for the patient named. */
  | 'assign'
  /** Rejected; nothing was or will be published. */
  | 'reject'
  /** Rejected, and what is out becomes `entered-in-error`. */
  | 'reject-published'
  /** What is out becomes `entered-in-error`. */
  | 'withdraw';

const TABLE: Readonly<
  Record<ReadingState, Readonly<Partial<Record<DecisionAction, DecisionEffect>>>>
> = {
  'held-unpublished': { release: 'publish', correct: 'judge', reject: 'reject', assign: 'assign' },
  'held-preliminary': { release: 'publish', correct: 'judge', reject: 'reject-published' },
  'clear-preliminary': {
    release: 'publish',
    correct: 'judge',
    reject: 'reject-published',
    withdraw: 'withdraw',
  },
  'clear-final': { correct: 'correct', withdraw: 'withdraw' },
  rejected: { correct: 'judge' },
  withdrawn: {},
};

/** The state that the columns of a reading stand for. */
export function readingState({ verdict, hold, status }: DecidableState): ReadingState {
  if (status === 'entered-in-error') return 'withdrawn';
  if (verdict === 'rejected') return 'rejected';
  if (hold !== null) return status === null ? 'held-unpublished' : 'held-preliminary';
  return status === 'preliminary' ? 'clear-preliminary' : 'clear-final';
}

/** The effect of a decision, or a sentence that says why it is not possible. */
export function decisionEffect(
  action: DecisionAction,
  state: DecidableState,
): { readonly effect: DecisionEffect } | { readonly refusal: string } {
  const name = readingState(state);
  const effect = TABLE[name][action];
  if (effect === undefined) return { refusal: REFUSALS[name] };
  if (effect === 'assign' && state.hold !== 'identity') {
    return { refusal: 'Only a reading held because its patient is in doubt can be assigned.' };
  }
  return { effect };
}

/** The decisions that are possible in a state. */
export function allowedActions(state: DecidableState): DecisionAction[] {
  return DECISION_ACTIONS.filter((action) => 'effect' in decisionEffect(action, state));
}

const REFUSALS: Readonly<Record<ReadingState, string>> = {
  'held-unpublished':
    'This reading is held and not published: it can be released, corrected, rejected, or, if its patient is in doubt, assigned.',
  'held-preliminary':
    'This reading is held and out as preliminary: it can be released, corrected or rejected.',
  'clear-preliminary':
    'This reading is out as preliminary: it can be released, corrected, rejected or withdrawn.',
  'clear-final': 'This reading is out as final: it can be corrected or withdrawn.',
  rejected: 'This reading was rejected: it can only be corrected.',
  withdrawn:
    'This reading was withdrawn: nothing more can be decided about it. Send the right one as a new set.',
};
