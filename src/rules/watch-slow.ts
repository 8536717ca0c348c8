/**
 * A runner that notices rules that take long. A synchronous rule cannot be interrupted; what can be done
 * is to say so: the rule's findings stand, and a held finding that names it stands beside them.
 */
import { sourceText, type Source } from '../vitals/limits-sources.js';
import type { Finding, JudgingContext } from '../vitals/shapes.js';
import type { Rule, RuleFailureListener } from './rule.js';
import { makeRuleRunner } from './run.js';

/** No set of 64 readings needs a thousandth of it from any rule. */
const SLOW_MS = 50;

const RULE_SLOW: Source = {
  document: 'Published contract of this gateway',
  section: 'value holds: a rule that took too long',
  year: null,
  standing: 'read',
};

/** Rules have no clock of their own. */
export interface SlowWatch {
  /** A clock that never steps back, in ms. */
  readonly now: () => number;
  /** Told of every rule that took too long, for a metric and a log line. */
  readonly onSlow: (ruleId: string, tookMs: number) => void;
}

/**
 * As `makeRuleRunner`, at the cost of two looks at the clock a set. Only when a whole set took too long is
 * it judged again with each rule timed: a machine that paused is thereby told apart from a slow rule.
 */
export function makeWatchedRunner(
  rules: readonly Rule[],
  { now, onSlow }: SlowWatch,
): (context: JudgingContext, onRuleFailure: RuleFailureListener) => readonly Finding[] {
  const run = makeRuleRunner(rules);
  return (context, onRuleFailure) => {
    const startedMs = now();
    const findings = run(context, onRuleFailure);
    if (now() - startedMs <= SLOW_MS) return findings;
    const spentMs = new Map<string, number>();
    const timed = rules.map((rule) => timedRule(rule, now, spentMs));
    const again = makeRuleRunner(timed)(context);
    const slow = rules.filter(({ id }) => (spentMs.get(id) ?? 0) > SLOW_MS);
    for (const { id } of slow) onSlow(id, spentMs.get(id) ?? 0);
    return slow.length === 0 ? again : [...again, ...slow.map((rule) => tookLong(rule, context))];
  };
}

/** The same rule, which adds up the time that it takes over the whole set. */
function timedRule(rule: Rule, now: () => number, spentMs: Map<string, number>): Rule {
  const check = rule.check as (...asked: never[]) => unknown;
  const timed = (...asked: never[]): unknown => {
    const startedMs = now();
    try {
      return check(...asked);
    } finally {
      spentMs.set(rule.id, (spentMs.get(rule.id) ?? 0) + now() - startedMs);
    }
  };
  return { ...rule, check: timed } as Rule;
}

function tookLong(rule: Rule, { set }: JudgingContext): Finding {
  const concerned = 'appliesTo' in rule ? rule.appliesTo : undefined;
  return {
    rule: rule.id,
    verdict: 'held',
    readings:
      concerned === undefined
        ? []
        : set.readings.filter(({ vital }) => concerned.includes(vital)).map(({ index }) => index),
    message: `The rule ${rule.id} took too long, so that its answer is not relied upon.`,
    advice: 'Check the value yourself; a reviewer decides about it.',
    source: sourceText(RULE_SLOW),
    hold: 'value',
    failed: true,
  };
}
