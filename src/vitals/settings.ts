/** The registry of all settings, as they come with the gateway. What a setting is: `setting.ts`. */
import { BAND_SETTINGS } from './limits-bands.js';
import { PLAUSIBLE_SETTINGS } from './limits-plausible.js';
import type { Setting, SettingRow } from './setting.js';
import { CHANGE_SETTINGS } from './settings-change.js';
import { CONTEXT_SETTINGS } from './settings-context.js';
import { CROSS_CHECK_SETTINGS } from './settings-cross-checks.js';
import { DERIVED_SETTINGS } from './settings-derived.js';
import { LIFTING_SETTINGS } from './settings-lifting.js';
import { QUALITY_SETTINGS } from './settings-quality.js';
import { REFERENCE_SETTINGS } from './settings-reference.js';
import { RELATION_SETTINGS } from './settings-relations.js';
import { TIME_SETTINGS } from './settings-time.js';

/** Settings that a rule asks for by name; the cells of tables are reached by sign, age and sex. */
export type NamedSettingId =
  | keyof typeof CHANGE_SETTINGS
  | keyof typeof CONTEXT_SETTINGS
  | keyof typeof CROSS_CHECK_SETTINGS
  | keyof typeof DERIVED_SETTINGS
  | keyof typeof LIFTING_SETTINGS
  | keyof typeof QUALITY_SETTINGS
  | keyof typeof REFERENCE_SETTINGS
  | keyof typeof RELATION_SETTINGS
  | keyof typeof TIME_SETTINGS;

const named: readonly Readonly<Record<string, SettingRow>>[] = [
  CROSS_CHECK_SETTINGS,
  LIFTING_SETTINGS,
  RELATION_SETTINGS,
  TIME_SETTINGS,
  CHANGE_SETTINGS,
  CONTEXT_SETTINGS,
  QUALITY_SETTINGS,
  REFERENCE_SETTINGS,
  DERIVED_SETTINGS,
];

export const SETTINGS: readonly Setting[] = [
  ...named.flatMap((rows) => Object.entries(rows).map(([id, row]) => ({ id, ...row }))),
  ...PLAUSIBLE_SETTINGS,
  ...BAND_SETTINGS,
];

const BY_ID: ReadonlyMap<string, Setting> = new Map(SETTINGS.map((each) => [each.id, each]));

/** The setting of an id, with its default; null: there is none of that name. */
export function findSetting(id: string): Setting | null {
  return BY_ID.get(id) ?? null;
}
