/** The true time of what a device timed by a clock of its own that is known to be off. */
import type { DeviceFacts } from './shapes.js';
import { toMs } from './setting.js';
import { TIME_SETTINGS } from './settings-time.js';

const { at, unit } = TIME_SETTINGS['clock-corrected.pair'];
/** As it comes with the gateway; an edition may have another (`limits.ms('clock-corrected.pair')`). */
const PAIR_LASTS_MS = toMs(at, unit);

/**
 * Whether a device's clock was compared with the true time lately enough to rely on it.
 * @param clock the last pair of both times that was seen; null: never
 * @param lastsMs how old a pair may be
 */
export function isClockKnown(
  clock: DeviceFacts['clock'],
  nowMs: number,
  lastsMs: number = PAIR_LASTS_MS,
): clock is NonNullable<DeviceFacts['clock']> {
  return clock !== null && Math.abs(nowMs - clock.seenAtMs) <= lastsMs;
}

/**
 * The true time of a reading, in ms since the epoch: what the device's clock showed, less how far that
 * clock is ahead. Null: nobody knows how far it is off now, and the time stands as it was told.
 * @param toldMs by the device's own clock
 * @param nowMs when it arrived
 */
export function correctDeviceTime(
  toldMs: number,
  clock: DeviceFacts['clock'],
  nowMs: number,
  lastsMs: number = PAIR_LASTS_MS,
): number | null {
  return isClockKnown(clock, nowMs, lastsMs) ? toldMs - clock.offsetMs : null;
}
