/** How far two values lie apart, and how far they may. */
import type { Limits } from '../vitals/limits.js';
import type { Limit } from '../vitals/limits-sources.js';
import type { NamedSettingId } from '../vitals/settings.js';

/** The distance of two values, free of the noise of binary fractions. */
export function distance(a: number, b: number): number {
  return Math.round(Math.abs(a - b) * 1e6) / 1e6;
}

/**
 * The difference up to which two values agree: the absolute one, or the site's share of the greater
 * value where that is less. The absolute one is always the cap.
 */
export function tolerance(
  limits: Limits,
  cap: NamedSettingId,
  share: NamedSettingId,
  a: number,
  b: number,
): Limit {
  const absolute = limits.setting(cap);
  const relative = limits.setting(share);
  if (relative.at >= 1) return absolute;
  const at = Math.round(relative.at * Math.max(Math.abs(a), Math.abs(b)) * 100) / 100;
  return at < absolute.at ? { at, source: relative.source } : absolute;
}
