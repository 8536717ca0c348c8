/** Corrections and withdrawals by later Observations, carried out as decisions of their source. */
import { partEnvelope } from '../envelope.js';
import type { Stages } from '../judging.js';
import { decideReading } from '../store/decide-reading.js';
import type { DecisionOutcome } from '../store/decide-reading.js';
import type { AmendedReading } from '../store/find-amended.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { Envelope } from '../store/submission-records.js';
import type { Decision, DecisionAction } from '../vitals/decisions.js';
import type { IncomingReading } from '../vitals/shapes.js';

export interface AmendmentServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
}

/** What is to be done with a kept reading. */
export interface AmendmentRequest {
  readonly action: 'correct' | 'withdraw';
  readonly original: AmendedReading;
  /** As it should have been. */
  readonly reading: IncomingReading;
}

const REASONS = {
  correct: 'The source corrected it by a later Observation (status amended or corrected).',
  withdraw: 'The source withdrew it by a later Observation (status entered-in-error).',
} as const;

/** @param whole the submission that says so; it must be on disk */
export function amendReading(
  { pool, names, stages }: AmendmentServices,
  whole: Envelope,
  { action, original, reading }: AmendmentRequest,
): Promise<DecisionOutcome> {
  const decision: Decision = {
    action: action === 'correct' ? 'correct' : withdrawalOf(original),
    reason: REASONS[action],
    reasonCode: 'other',
    expectedVersion: original.version,
    ...(action === 'correct' && { reading }),
  };
  return decideReading(pool, names, stages, {
    envelope: { ...partEnvelope(whole), kind: 'decision' },
    readingId: original.readingId,
    decision,
    ownSourceKey: whole.sourceKey,
  });
}

/** A reading that is still held was never settled: it is rejected, not withdrawn. */
function withdrawalOf({ hold }: AmendedReading): DecisionAction {
  return hold === null ? 'withdraw' : 'reject';
}
