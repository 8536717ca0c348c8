/**
 * Settings: the numbers that rules compare with. A site may change each of them; nothing else.
 *
 * Ids
 *   `<rule-id>.<name>`            a threshold of a rule; `readBy` names the other rules that read it
 *   `plausible.<vital>.<part>.<cuff|invasive|any>.<ages>.<rejectBelow|holdBelow|holdAbove|rejectAbove>`
 *   `band.<vital>.<part>.<male|female|any>.<ages>.<criticalLow|low|high|criticalHigh>`
 * Ages are half open, `<from>-<until>`: `0-28d`, `28d-3mo`, `1y-13y`, `13y-up`; `any` is every age.
 *
 * To add one: a row in the table of its kind (`settings-<kind>.ts`). The rule then asks
 * `context.limits.at('<rule-id>.<name>')`, gives `context.limits.setting(…).source` among the sources of
 * its remark, and `GET /rules`, the check of a site's configuration and the tests follow from the row.
 */
import type { Source } from './limits-sources.js';
import type { CanonicalUnit } from './words.js';

/**
 * UCUM, each with the smallest and the largest number that a limit in it can sanely have. `1`: a ratio or
 * a number of things. The last five are lengths of time and ages.
 */
export const SANE_RANGES = {
  '/min': [0, 1000],
  '%': [0, 100],
  'mm[Hg]': [0, 1000],
  Cel: [0, 150],
  '[degF]': [0, 250],
  kg: [0, 1000],
  cm: [0, 500],
  'L/min': [0, 500],
  '1': [0, 1000],
  s: [0, 3600],
  min: [0, 1440],
  h: [0, 240],
  d: [0, 400],
  mo: [0, 1800],
} as const satisfies Readonly<Record<CanonicalUnit | '[degF]' | '1', readonly [number, number]>> &
  Readonly<Record<string, readonly [number, number]>>;

export type SettingUnit = keyof typeof SANE_RANGES;

export interface SettingRow {
  readonly at: number;
  readonly unit: SettingUnit;
  readonly source: Source;
  /** One sentence: what happens at this number, and whether the number itself belongs to it. */
  readonly words: string;
  /** Smallest and largest sane number; absent: what is sane for the unit. */
  readonly range?: readonly [least: number, most: number];
  /** Rules that read it besides the one that its id begins with. */
  readonly readBy?: readonly string[];
  /** Ids of settings of which it must not be the smaller one. */
  readonly notBelow?: readonly string[];
  /** Ids of settings that it must be greater than. */
  readonly above?: readonly string[];
  /** For a tolerance in relative terms, and it must have one: the id of its absolute cap. */
  readonly cap?: string;
  /**
   * A window: earlier readings as far back as the greatest of them come as `context.earlier`
   * (`compared`) or as `context.history` (`history`).
   */
  readonly window?: 'compared' | 'history';
}

export type SettingRows = Readonly<Record<string, SettingRow>>;

/** A setting as it comes with the gateway. */
export interface Setting extends SettingRow {
  readonly id: string;
}

const MS: Readonly<Partial<Record<SettingUnit, number>>> = {
  s: 1000,
  min: 60_000,
  h: 3_600_000,
  d: 86_400_000,
};

/** A length of time in milliseconds. Throws for what is none. */
export function toMs(at: number, unit: SettingUnit): number {
  const factor = MS[unit];
  if (factor === undefined) throw new Error(`${unit} is not a unit of a length of time`);
  return at * factor;
}
