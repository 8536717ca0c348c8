import type { Finding, JudgingContext } from '../vitals/shapes.js';
import type { LiftingRule, ReadingFacts, RuleFailureListener } from './rule.js';

/**
 * Turns each held finding that a lifting rule clears into a note, in place. What is said about it stays
 * in the list; only the hold goes. A lifting rule that throws leaves the hold as it was.
 */
export function liftHolds(
  liftingRules: readonly LiftingRule[],
  findings: Finding[],
  context: JudgingContext,
  standing: readonly ReadingFacts[],
  onRuleFailure: RuleFailureListener | undefined,
): void {
  findings.forEach((held, index) => {
    if (held.verdict !== 'held') return;
    for (const rule of liftingRules) {
      if (!rule.lifts.includes(held.rule)) continue;
      try {
        const lift = rule.check(held, context, standing);
        if (lift === null) continue;
        findings[index] = lifted(held, rule.id, lift.remark, lift.earlier);
        return;
      } catch (error) {
        onRuleFailure?.(rule.id, error);
      }
    }
  });
}

function lifted(
  held: Finding,
  liftedBy: string,
  remark: string,
  earlier: readonly string[] | undefined,
): Finding {
  const { rule, readings, discreetMessage, source } = held;
  return {
    rule,
    readings,
    source,
    verdict: 'noted',
    message: `${held.message} ${remark}`,
    advice: 'Nothing more is needed for this doubt.',
    figures: { ...held.figures, liftedBy },
    ...(earlier === undefined ? {} : { earlier }),
    ...(discreetMessage === undefined ? {} : { discreetMessage }),
  };
}
