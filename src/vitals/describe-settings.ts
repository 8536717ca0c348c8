/** The numbers behind the rules, for people to read. */
import { sourceText } from './limits-sources.js';
import type { CurrentSetting, Limits } from './limits.js';
import type { SettingUnit } from './setting.js';

export interface SettingDescription {
  readonly id: string;
  readonly at: number;
  readonly unit: SettingUnit;
  readonly source: string;
  readonly words: string;
  readonly default: { readonly at: number; readonly source: string };
  /** The site has set it, be it to the same number. */
  readonly changed: boolean;
}

/** The settings that a rule reads, as an edition has them. */
export function describeSettings(limits: Limits, ruleId: string): readonly SettingDescription[] {
  return limits.all
    .filter(({ id, readBy = [] }) => id.startsWith(`${ruleId}.`) || readBy.includes(ruleId))
    .map(describe);
}

/** The bands that interpretation codes come from; those of LL and HH are read by a rule as well. */
export function describeBands(limits: Limits): readonly SettingDescription[] {
  return limits.all.filter(({ id }) => id.startsWith('band.')).map(describe);
}

function describe(setting: CurrentSetting): SettingDescription {
  const { id, at, unit, words, changed } = setting;
  return {
    id,
    at,
    unit,
    source: sourceText(setting.source),
    words,
    default: { at: setting.default.at, source: sourceText(setting.default.source) },
    changed,
  };
}
