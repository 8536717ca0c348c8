/** What the rules and the verdict say of a context, in the short form that tests compare. */
import { RULES } from '../../src/rules/index.js';
import type { Rule } from '../../src/rules/rule.js';
import { runRules } from '../../src/rules/run.js';
import type { Finding, JudgedSet, JudgingContext, Reading } from '../../src/vitals/shapes.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import { contextOf } from './build-context.js';

export const judge = (context: JudgingContext): JudgedSet =>
  decideVerdicts(context, runRules(context), 1);

/** Rule, verdict and readings of every finding: "value-doubtful held 0". */
export const heard = (context: JudgingContext): readonly string[] =>
  runRules(context).map(({ rule, verdict, readings }) =>
    [rule, verdict, readings.join('+')].join(' ').trimEnd(),
  );

/** The findings of one rule. */
export const findingsOf = (rule: string, context: JudgingContext): readonly Finding[] =>
  runRules(context).filter((finding) => finding.rule === rule);

/** Whether a rule speaks about a reading that stands alone in its set. */
export const speaks = (
  rule: string,
  reading: Reading,
  changes: Parameters<typeof contextOf>[1] = {},
): boolean => findingsOf(rule, contextOf([reading], changes)).length > 0;

/** Verdict of a reading that stands alone in its set. */
export const verdictOf = (reading: Reading, changes: Parameters<typeof contextOf>[1] = {}) =>
  judge(contextOf([reading], changes)).verdict;

/** The rules in force, one of them broken. */
export const breakRule = (id: string): readonly Rule[] =>
  RULES.map((rule) => {
    if (rule.id !== id) return rule;
    return {
      ...rule,
      check: () => {
        throw new Error('a limit is missing');
      },
    };
  });
