/**
 * The numbers by which one edition judges. Rules, interpretation and verdicts take every number from
 * here (`context.limits`) and none from a constant, so that a site can change it and a trial can replay it.
 *
 *   limits.at('pulse-methods-disagree.difference')        the number, in the setting's unit
 *   limits.setting('pulse-methods-disagree.difference')   the number and its source
 *   limits.ms('pulse-methods-disagree.window')            a window, in milliseconds
 *   limits.plausible(vital, part, method, age)            reject and hold bounds
 *   limits.bands(vital, part, gender)                     interpretation bands (`bandAt` picks by age)
 *   limits.comparedMs, limits.historyMs                   how far back earlier readings must be read
 *   limits.disabledRules                                  rules that the site has switched off
 *   limits.derives                                        whether values are calculated (`derived-values.ts`)
 *
 * The look-ups are worked out once an edition: asking them costs what a constant table costs.
 */
import { buildBandLookup, type BandLookup } from './limits-lookup.js';
import { buildPlausibleLookup, type PlausibleLookup } from './limits-plausible.js';
import type { Limit } from './limits-sources.js';
import { toMs, type Setting } from './setting.js';
import { SETTINGS, findSetting, type NamedSettingId } from './settings.js';

/** By id of a setting: the number in the setting's own unit, and where it comes from. */
export type SettingChanges = Readonly<Record<string, Limit>>;

/** A setting as an edition has it. */
export interface CurrentSetting extends Setting {
  readonly default: Limit;
  readonly changed: boolean;
}

export interface Limits {
  readonly at: (id: NamedSettingId) => number;
  readonly setting: (id: NamedSettingId) => Limit;
  /** Throws when the setting is no length of time. */
  readonly ms: (id: NamedSettingId) => number;
  readonly plausible: PlausibleLookup;
  /** Null for what is not interpreted: mean pressure, size, oxygen given. */
  readonly bands: BandLookup;
  /** The longest window in which a reading is compared with earlier ones (`context.earlier`). */
  readonly comparedMs: number;
  /** The longest stretch of a patient's own readings that a rule looks back on (`context.history`). */
  readonly historyMs: number;
  readonly disabledRules: ReadonlySet<string>;
  /** The site wants values calculated from a blood pressure to be published. */
  readonly derives: boolean;
  /** Every setting, for showing and for checking; never on the path of judging. */
  readonly all: readonly CurrentSetting[];
}

/**
 * The limits of an edition. What is not changed stays as it comes with the gateway. No sense is checked
 * here: see `limits-contradictions.ts`.
 * @throws Error when a change names a setting that there is not
 */
export function buildLimits(
  changes: SettingChanges,
  disabledRules: Iterable<string> = [],
  derives = false,
): Limits {
  const changed = new Map(Object.entries(changes));
  for (const id of changed.keys()) {
    if (findSetting(id) === null) throw new Error(`there is no setting ${id}`);
  }
  const all = SETTINGS.map((setting) => current(setting, changed.get(setting.id)));
  const byId = new Map<string, Limit>(all.map(({ id, at, source }) => [id, { at, source }]));
  const resolve = (id: string): Limit => {
    const found = byId.get(id);
    if (found === undefined) throw new Error(`there is no setting ${id}`);
    return found;
  };
  const lengthsMs = new Map(
    all.filter(isLength).map(({ id, at, unit }) => [id, toMs(at, unit)] as const),
  );
  const longest = (window: Setting['window']): number =>
    Math.max(
      0,
      ...all.filter((each) => each.window === window).map(({ at, unit }) => toMs(at, unit)),
    );
  return {
    at: (id) => resolve(id).at,
    setting: resolve,
    ms: (id) => lengthsMs.get(id) ?? notALength(id),
    plausible: buildPlausibleLookup(resolve),
    bands: buildBandLookup(resolve),
    comparedMs: longest('compared'),
    historyMs: longest('history'),
    disabledRules: new Set(disabledRules),
    derives,
    all,
  };
}

function current(setting: Setting, change: Limit | undefined): CurrentSetting {
  const { at, source } = setting;
  return { ...setting, ...change, default: { at, source }, changed: change !== undefined };
}

function isLength({ unit }: Setting): boolean {
  return unit === 's' || unit === 'min' || unit === 'h' || unit === 'd';
}

function notALength(id: string): never {
  throw new Error(`the setting ${id} is no length of time`);
}

/** The limits as they come with the gateway. */
export const DEFAULT_LIMITS = buildLimits({});
