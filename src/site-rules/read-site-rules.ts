/** A site's configuration read whole: its form, the sense of its limits, and what it may switch off. */
import { checkSiteRules } from '../contract/compile.js';
import { switchFaults } from '../rules/switches.js';
import { derivationFaults } from '../vitals/derived-values.js';
import { contradictions } from '../vitals/limits-contradictions.js';
import type { Limits } from '../vitals/limits.js';
import { findSetting } from '../vitals/settings.js';
import type { Fault } from '../vitals/shapes.js';
import { limitsOf, type SiteRules } from '../vitals/site-rules.js';

export type SiteRulesReading =
  | { readonly ok: true; readonly rules: SiteRules; readonly limits: Limits }
  | { readonly ok: false; readonly faults: readonly Fault[] };

/**
 * Takes a parsed configuration, or names every fault of it: where the form of one setting is at fault, the
 * sense of the others is told all the same.
 */
export function readSiteRules(value: unknown): SiteRulesReading {
  const form = checkSiteRules(value);
  const rules = form.ok ? form.rules : soundPart(value, form.unsound);
  const limits = limitsOf(rules);
  const faults = [
    ...(form.ok ? [] : form.faults),
    ...contradictions(limits, form.ok ? new Set() : form.unsound),
    ...derivationFaults(rules, limits),
    ...switchFaults(rules),
  ];
  return form.ok && faults.length === 0
    ? { ok: true, rules: form.rules, limits }
    : { ok: false, faults };
}

/** What can be looked at of a configuration whose form is at fault. */
function soundPart(value: unknown, unsound: ReadonlySet<string>): Partial<SiteRules> {
  const { settings, rules, derivedValues } = (isObject(value) ? value : {}) as Partial<SiteRules>;
  const sound = Object.entries(isObject(settings) ? settings : {}).filter(
    ([id]) => findSetting(id) !== null && !unsound.has(id),
  );
  const switches = Object.entries(isObject(rules) ? rules : {}).filter(([, each]) =>
    isSwitch(each),
  );
  return {
    settings: Object.fromEntries(sound),
    rules: Object.fromEntries(switches),
    ...(isSwitch(derivedValues) ? { derivedValues } : {}),
  };
}

function isObject(value: unknown): value is object {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function isSwitch(value: unknown): boolean {
  return isObject(value) && 'enabled' in value && typeof value.enabled === 'boolean';
}
