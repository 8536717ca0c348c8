/**
 * Which rules a site may switch off: those that only note, save a few that say what must not go unsaid.
 * What holds or rejects stays on; a site moves its limits instead, as far as these make sense.
 */
import type { SiteRules } from '../vitals/site-rules.js';
import type { Fault } from '../vitals/shapes.js';
import { RULES } from './index.js';
import type { Rule } from './rule.js';

/** Notes that stay on, and why. */
const KEPT_ON: Readonly<Record<string, string>> = {
  'value-critical': 'it calls for help',
  'age-unknown': 'it says why there is no interpretation code',
  'mean-outside-pressures': 'it keeps a wrong mean pressure from going out',
  'patient-single-identifier': 'it says how far the patient was identified',
  'signal-doubtful': 'it says why the value is preliminary',
  'clock-corrected': 'it says that the time is not the one that the device told',
  'original-not-found': 'it says that a wrong value may still stand elsewhere',
};

/** Why a rule cannot be switched off; null: it can. */
export function keptOnBecause({ id, verdict, stage }: Rule): string | null {
  if (verdict === 'rejected') return 'it rejects: change its limits instead';
  if (verdict === 'held') return 'it holds: change its limits instead';
  if (stage === 'lift' || stage === 'resolve')
    return 'it ends holds that nothing else would end at once';
  return KEPT_ON[id] ?? null;
}

/** What is wrong with the switches of a configuration: every fault, by its pointer. */
export function switchFaults({ rules = {} }: Partial<SiteRules>): readonly Fault[] {
  return Object.entries(rules).flatMap(([id, { enabled }]) => {
    const rule = RULES.find((each) => each.id === id);
    if (rule === undefined) {
      const pointer = `/rules/${id.replaceAll('~', '~0').replaceAll('/', '~1')}`;
      return [{ pointer, message: `there is no rule of the name "${id.slice(0, 60)}"` }];
    }
    const because = enabled ? null : keptOnBecause(rule);
    if (because === null) return [];
    return [
      { pointer: `/rules/${id}/enabled`, message: `${id} cannot be switched off: ${because}` },
    ];
  });
}
