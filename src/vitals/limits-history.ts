/** Which rules look back on a patient's own readings of the days before, and whether a change concerns them. */
import type { CurrentSetting, Limits } from './limits.js';

/** Ids of the rules that read a setting: the one that its id begins with, and those named. */
function readersOf({ id, readBy = [] }: CurrentSetting): readonly string[] {
  return [id.slice(0, id.indexOf('.')), ...readBy];
}

/** Rules that look back: those with a window of that kind. */
export function rulesLookingBack({ all }: Limits): ReadonlySet<string> {
  return new Set(all.filter(({ window }) => window === 'history').flatMap(readersOf));
}

/** Whether two editions differ in a number or a switch of a rule that looks back. */
export function differInHistory(one: Limits, other: Limits): boolean {
  const looking = rulesLookingBack(one);
  const others = new Map(other.all.map(({ id, at }) => [id, at]));
  const numbers = one.all.some(
    (setting) =>
      others.get(setting.id) !== setting.at && readersOf(setting).some((rule) => looking.has(rule)),
  );
  const switched = [...looking].some(
    (rule) => one.disabledRules.has(rule) !== other.disabledRules.has(rule),
  );
  return numbers || switched;
}
