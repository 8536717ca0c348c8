import { DEVICE_CLOCKS } from '../../vitals/limits-sources.js';
import type { JudgingContext } from '../../vitals/shapes.js';
import { deviceDelays, isSameDevice, wholeHours, type DeviceDelay } from '../device-delays.js';
import { NO_REMARKS, type AcrossRule } from '../rule.js';
import { duration } from '../wording.js';

/** Delays of the last arrivals of the device before this one, newest last: one a time of measuring. */
function delaysBefore(
  { device, takenAtMs }: DeviceDelay,
  { history, limits }: JudgingContext,
): readonly number[] {
  const windowMs = limits.ms('device-clock-drifted.window');
  const delays = new Map<number, number>();
  for (const { device: other, takenAt, receivedAtMs } of history) {
    const agoMs = takenAtMs - takenAt.epochMs;
    if (agoMs <= 0 || agoMs > windowMs || !isSameDevice(device, other)) continue;
    delays.set(takenAt.epochMs, receivedAtMs - takenAt.epochMs);
  }
  return [...delays.values()];
}

/**
 * What is sent late makes a delay longer, never shorter: the shortest of several tells how far the clock
 * is behind at the most. A clock that is ahead is told by `time-in-future`.
 */
export const deviceClockDrifted: AcrossRule = {
  id: 'device-clock-drifted',
  stage: 'across',
  verdict: 'noted',
  words: 'Each of the last readings of a device arrived well after its time: its clock is behind.',
  source: DEVICE_CLOCKS,
  since: 1,
  check: (context) => {
    const { history, limits } = context;
    if (history.length === 0) return NO_REMARKS;
    const enough = limits.at('device-clock-drifted.readings');
    const { at: limit, source } = limits.setting('device-clock-drifted.delay');
    const limitMs = limits.ms('device-clock-drifted.delay');
    return deviceDelays(context).flatMap((present) => {
      const { device, readings, delayMs } = present;
      if (device === null || delayMs <= limitMs || wholeHours(delayMs, limits) !== null) return [];
      const delays = [...delaysBefore(present, context), delayMs].slice(-enough);
      const shortestMs = Math.min(...delays);
      if (delays.length < enough || shortestMs <= limitMs) return [];
      return [
        {
          readings,
          message: `Each of the last ${delays.length} readings of the device arrived ${duration(shortestMs)} or more after its time: its clock may be behind.`,
          advice: 'Compare the clock of the device with the true time, and set it.',
          figures: { difference: Math.floor(shortestMs / 60_000), limit, unit: 'min' },
          sources: [source],
        },
      ];
    });
  },
};
