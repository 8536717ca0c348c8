/**
 * Runs the rules over one set. A rule that throws costs a held finding that names it, never the reading:
 * what could not be checked is neither passed nor lost.
 */
import { identityDoubtOf } from '../vitals/identity-doubt.js';
import { sourceText, type Source } from '../vitals/limits-sources.js';
import type { Finding, JudgingContext, Reading } from '../vitals/shapes.js';
import type { Vital } from '../vitals/words.js';
import { collectFacts } from './facts.js';
import { RULES } from './index.js';
import { liftHolds } from './lift-holds.js';
import { resolveDisagreements } from './resolve-disagreements.js';
import type {
  AcrossRule,
  LiftingRule,
  ReadingFacts,
  ReadingRule,
  Remark,
  ResolvingRule,
  Rule,
  RuleFailureListener,
  SetRule,
} from './rule.js';

type RuleRunner = (
  context: JudgingContext,
  onRuleFailure?: RuleFailureListener,
) => readonly Finding[];

const RULE_FAILED: Source = {
  document: 'Published contract of this gateway',
  section: 'value holds: a rule that failed',
  year: null,
  standing: 'read',
};

/** A runner over a list of rules; the list is sorted into stages once. */
export function makeRuleRunner(rules: readonly Rule[]): RuleRunner {
  const setRules = rules.filter((rule): rule is SetRule => rule.stage === 'set');
  const acrossRules = rules.filter((rule): rule is AcrossRule => rule.stage === 'across');
  const liftingRules = rules.filter((rule): rule is LiftingRule => rule.stage === 'lift');
  const resolvingRules = rules.filter((rule): rule is ResolvingRule => rule.stage === 'resolve');
  const readingRulesOf = indexBySign(
    rules.filter((rule): rule is ReadingRule => rule.stage === 'reading'),
  );

  return (context, onRuleFailure) => {
    const findings: Finding[] = [];
    const failures: Finding[] = [];
    const listen = { findings, failures, onRuleFailure };
    const { disabledRules } = context.limits;
    const off = disabledRules.size === 0 ? null : disabledRules;

    for (const rule of setRules) {
      if (off?.has(rule.id) === true) continue;
      if (rule.asksWho === true && context.identitySettled === true) continue;
      speak(rule, EACH_READING, listen, () => rule.check(context));
    }
    for (const group of groupsOf(context, findings)) judgeGroup(group, off, listen);
    return failures.length === 0 ? findings : [...findings, ...failures];
  };

  /** Readings that are anybody's alike: they are looked at one by one, then together, then holds end. */
  function judgeGroup(
    { context, identityDoubted }: Group,
    off: ReadonlySet<string> | null,
    listen: Listening,
  ): void {
    const { findings, onRuleFailure } = listen;
    const { readings } = context.set;
    const facts = collectFacts(context, identityDoubted);
    for (const each of facts) {
      for (const rule of readingRulesOf(each.reading.vital)) {
        if (off?.has(rule.id) === true) continue;
        speak(rule, [each.reading], listen, () => rule.check(each, context));
      }
    }

    // What was kept for the patient named is neither compared nor quoted while it is in doubt who it is.
    const compared = identityDoubted ? { ...context, earlier: [], history: [] } : context;
    const standing = withoutRejected(facts, findings);
    for (const rule of acrossRules) {
      if (off?.has(rule.id) === true) continue;
      const concerned = readings.filter(({ vital }) => rule.appliesTo?.includes(vital) ?? true);
      if (concerned.length === 0) continue;
      speak(rule, concerned, listen, () => rule.check(compared, standing));
    }

    liftHolds(liftingRules, findings, compared, standing, onRuleFailure);
    resolveDisagreements(resolvingRules, findings, compared, standing, onRuleFailure);
  }
}

/** Judges a set by the rules in force. */
export const runRules: RuleRunner = makeRuleRunner(RULES);

const EACH_READING: readonly Reading[] = [];

interface Group {
  readonly context: JudgingContext;
  readonly identityDoubted: boolean;
}

/**
 * The set as one; or, where a device brought some readings of this patient and some that may be another's,
 * these and those, so that neither is held against the other.
 */
function groupsOf(context: JudgingContext, findings: readonly Finding[]): readonly Group[] {
  const { set } = context;
  const isDoubted = identityDoubtOf(findings);
  const doubted = set.readings.filter(isDoubted);
  if (doubted.length === 0 || doubted.length === set.readings.length) {
    return [{ context, identityDoubted: doubted.length > 0 }];
  }
  const settled = set.readings.filter((reading) => !isDoubted(reading));
  return [
    { context: { ...context, set: { ...set, readings: settled } }, identityDoubted: false },
    { context: { ...context, set: { ...set, readings: doubted } }, identityDoubted: true },
  ];
}

interface Listening {
  readonly findings: Finding[];
  /** Kept apart: no rule lifts the hold of a rule that failed. */
  readonly failures: Finding[];
  readonly onRuleFailure: RuleFailureListener | undefined;
}

function indexBySign(rules: readonly ReadingRule[]): (vital: Vital) => readonly ReadingRule[] {
  const index = new Map<Vital, readonly ReadingRule[]>();
  return (vital) => {
    let found = index.get(vital);
    if (found === undefined) {
      found = rules.filter(({ appliesTo }) => appliesTo?.includes(vital) ?? true);
      index.set(vital, found);
    }
    return found;
  };
}

function speak(
  rule: SetRule | ReadingRule | AcrossRule,
  concerned: readonly Reading[],
  { findings, failures, onRuleFailure }: Listening,
  check: () => readonly Remark[],
): void {
  try {
    for (const remark of check()) findings.push(toFinding(rule, remark));
  } catch (error) {
    failures.push(
      ruleFailed(
        rule.id,
        concerned.map(({ index }) => index),
      ),
    );
    onRuleFailure?.(rule.id, error);
  }
}

function toFinding(rule: SetRule | ReadingRule | AcrossRule, remark: Remark): Finding {
  const { sources = [rule.source], ...rest } = remark;
  return {
    rule: rule.id,
    verdict: rule.verdict,
    ...rest,
    source: [...new Set(sources.map(sourceText))].join('; '),
    ...(rule.hold === undefined ? {} : { hold: rule.hold }),
  };
}

function ruleFailed(ruleId: string, readings: readonly number[]): Finding {
  return {
    rule: ruleId,
    verdict: 'held',
    readings,
    message: `The rule ${ruleId} could not be worked out, so this was not fully checked.`,
    advice: 'Check the value yourself; a reviewer decides about it.',
    source: sourceText(RULE_FAILED),
    hold: 'value',
    failed: true,
  };
}

/** The facts of the readings that still stand: one rejected reading must not pull its neighbours down. */
function withoutRejected(
  facts: readonly ReadingFacts[],
  findings: readonly Finding[],
): readonly ReadingFacts[] {
  const rejections = findings.filter(({ verdict }) => verdict === 'rejected');
  if (rejections.length === 0) return facts;
  if (rejections.some(({ readings }) => readings.length === 0)) return [];
  return facts.filter(
    ({ reading }) => !rejections.some(({ readings }) => readings.includes(reading.index)),
  );
}
