/** A configuration with one more change, from the fields of a form. */
import type { SiteRules } from '../../../vitals/site-rules.js';

export interface ChangeFields {
  /** Name of the site. */
  readonly name: string;
  /** Id of a setting; empty: none is changed. */
  readonly setting: string;
  readonly at: string;
  readonly document: string;
  readonly section: string;
  readonly year: string;
  /** Id of a rule to switch off; empty: none. */
  readonly off: string;
  /** Id of a rule to switch on again; empty: none. */
  readonly on: string;
  /** Whether values are calculated: `on`, `off`, or as it was. */
  readonly derived: string;
}

/** A number as it was typed; what is none goes on as text, to be refused with its place. */
function numberOf(text: string): number | string {
  const trimmed = text.trim().replace(',', '.');
  return /^-?\d+(\.\d+)?$/.test(trimmed) ? Number(trimmed) : text;
}

/**
 * Not checked: the reader of configurations finds every fault of it.
 * @param unitOf the unit of a setting; undefined: there is no such setting
 */
export function changeConfiguration(
  base: Partial<SiteRules>,
  change: ChangeFields,
  unitOf: (setting: string) => string | undefined,
): Readonly<Record<string, unknown>> {
  const { setting, off, on, derived } = change;
  const settings: Record<string, unknown> = { ...base.settings };
  if (setting !== '') {
    settings[setting] = {
      at: numberOf(change.at),
      unit: unitOf(setting),
      source: {
        document: change.document.trim(),
        section: change.section.trim(),
        ...(change.year.trim() !== '' && { year: numberOf(change.year) }),
      },
    };
  }
  const rules: Record<string, unknown> = { ...base.rules };
  if (off !== '') rules[off] = { enabled: false };
  if (on !== '') Reflect.deleteProperty(rules, on);
  return {
    name: change.name.trim(),
    settings,
    ...(Object.keys(rules).length > 0 && { rules }),
    ...(derived === ''
      ? base.derivedValues !== undefined && { derivedValues: base.derivedValues }
      : { derivedValues: { enabled: derived === 'on' } }),
  };
}
