import type { Finding, JudgingContext } from '../vitals/shapes.js';
import type { HoldKind } from '../vitals/words.js';
import { sourceText } from '../vitals/limits-sources.js';
import type { ReadingFacts, Resolution, ResolvingRule, RuleFailureListener } from './rule.js';

/**
 * Lets the resolving rules speak, in place. For the readings that one of them releases, a held finding
 * becomes a note; for those that it leaves, the same finding stays held beside it. A rule that throws
 * leaves every hold as it was.
 */
export function resolveDisagreements(
  rules: readonly ResolvingRule[],
  findings: Finding[],
  context: JudgingContext,
  standing: readonly ReadingFacts[],
  onRuleFailure: RuleFailureListener | undefined,
): void {
  for (const rule of rules) {
    if (context.limits.disabledRules.has(rule.id)) continue;
    if (!isAnythingHeld(rule, findings, context)) continue;
    try {
      for (const resolution of rule.check(findings, context, standing)) {
        carryOut(rule, resolution, findings);
      }
    } catch (error) {
      onRuleFailure?.(rule.id, error);
    }
  }
}

function isAnythingHeld(
  { lifts }: ResolvingRule,
  findings: readonly Finding[],
  { earlier }: JudgingContext,
): boolean {
  return (
    findings.some(({ rule, verdict }) => verdict === 'held' && lifts.includes(rule)) ||
    earlier.some(({ hold }) => hold === 'value')
  );
}

function carryOut(rule: ResolvingRule, resolution: Resolution, findings: Finding[]): void {
  const { lifted, releases, sources = [rule.source], ...remark } = resolution;
  const split = findings.flatMap((finding) =>
    finding.verdict === 'held' && rule.lifts.includes(finding.rule)
      ? splitFinding(finding, lifted, rule.id)
      : [finding],
  );
  findings.splice(0, findings.length, ...split, {
    rule: rule.id,
    verdict: rule.verdict,
    ...remark,
    source: sources.map(sourceText).join('; '),
    ...(releases.length === 0 ? {} : { releases }),
  });
}

/** A note for the readings that are released, the finding as it was for those that are not. */
function splitFinding(
  held: Finding,
  lifted: readonly number[],
  liftedBy: string,
): readonly Finding[] {
  const free = held.readings.filter((index) => lifted.includes(index));
  if (free.length === 0) return [held];
  const rest = held.readings.filter((index) => !lifted.includes(index));
  const said: { hold?: HoldKind } & Finding = { ...held };
  delete said.hold;
  const note: Finding = {
    ...said,
    verdict: 'noted',
    readings: free,
    beside: rest,
    advice: 'A repeat has settled this doubt.',
    figures: { ...held.figures, liftedBy },
  };
  return rest.length === 0 ? [note] : [note, { ...held, readings: rest, beside: free }];
}
