/** The rules as people read them: what each complains of, why, and by which numbers. */
import { RULES } from '../rules/index.js';
import { describeSettings } from '../vitals/describe-settings.js';
import type { SettingDescription } from '../vitals/describe-settings.js';
import type { Limits } from '../vitals/limits.js';
import { sourceText } from '../vitals/limits-sources.js';
import type { HoldKind, Verdict, Vital } from '../vitals/words.js';

export interface RuleDescription {
  readonly rule: string;
  readonly words: string;
  readonly verdict: Exclude<Verdict, 'accepted'>;
  readonly hold: HoldKind | null;
  /** Null: all. */
  readonly signs: readonly Vital[] | null;
  /** Rules whose holds it may end. */
  readonly lifts: readonly string[];
  readonly source: string;
  /** The program's own edition in which it came. */
  readonly since: number;
  readonly disabled: boolean;
  readonly settings: readonly SettingDescription[];
}

/** Every rule with its settings as these limits have them, in the order in which they are heard. */
export function describeRules(limits: Limits): RuleDescription[] {
  return RULES.map((rule) => ({
    rule: rule.id,
    words: rule.words,
    verdict: rule.verdict,
    hold: rule.hold ?? null,
    signs: rule.appliesTo ?? null,
    lifts: 'lifts' in rule ? rule.lifts : [],
    source: sourceText(rule.source),
    since: rule.since,
    disabled: limits.disabledRules.has(rule.id),
    settings: describeSettings(limits, rule.id),
  }));
}
