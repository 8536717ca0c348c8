/** Which plan a decision needs in the state that it finds. */
import type { HoldKind, ObservationStatus, Verdict } from '../vitals/words.js';
import { released, withdrawn } from './decided-columns.js';
import type { RecordOfReading } from './decided-columns.js';
import { refuse } from './decision-plans.js';
import type { Plan, PlanRefusal, Planning } from './decision-plans.js';
import { planJudged } from './plan-judged.js';

/** Checks version and state, and works out the rows. */
export async function planDecision(planning: Planning): Promise<Plan | PlanRefusal> {
  const { deciding, record } = planning;
  const { decision } = planning.request;
  if (decision.expectedVersion !== record.version) {
    return refuse(
      409,
      `The reading is at version ${Number(record.version)} now; the decision was made on version ${decision.expectedVersion}. Look at it again before deciding.`,
    );
  }
  const found = deciding.decisionEffect(decision.action, {
    verdict: record.verdict as Verdict,
    hold: record.hold as HoldKind | null,
    status: record.status as ObservationStatus | null,
  });
  if ('refusal' in found) return refuse(409, found.refusal);
  switch (found.effect) {
    case 'publish':
      // While it was in doubt whose reading it is, it was held against nobody's age and readings.
      return record.hold === 'identity'
        ? planJudged(planning, found.effect)
        : simplePlan(released(record));
    case 'reject':
    case 'reject-published':
    case 'withdraw':
      return simplePlan(withdrawn(record, found.effect));
    case 'judge':
    case 'correct':
    case 'assign':
      return planJudged(planning, found.effect);
  }
}

function simplePlan(next: RecordOfReading): Plan {
  return { kind: 'plan', next, fresh: null, publish: new Map() };
}
