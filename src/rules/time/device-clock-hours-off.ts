import { DEVICE_CLOCKS } from '../../vitals/limits-sources.js';
import { deviceDelays, wholeHours } from '../device-delays.js';
import type { SetRule } from '../rule.js';

export const deviceClockHoursOff: SetRule = {
  id: 'device-clock-hours-off',
  stage: 'set',
  verdict: 'noted',
  words: 'A device’s reading arrived a whole number of hours from its time, as with a wrong zone.',
  source: DEVICE_CLOCKS,
  since: 1,
  check: (context) =>
    deviceDelays(context).flatMap(({ readings, delayMs }) => {
      const hours = wholeHours(delayMs, context.limits);
      if (hours === null) return [];
      const many = Math.abs(hours) === 1 ? 'one hour' : `${Math.abs(hours)} hours`;
      return [
        {
          readings,
          message: `The device’s time lies ${many} ${hours > 0 ? 'before' : 'after'} the arrival, almost to the minute: its clock may be set to another zone, or to summer or winter time.`,
          advice: 'Compare the clock of the device with the true time, and set it.',
          figures: {
            difference: Math.round(delayMs / 60_000),
            limit: context.limits.at('device-clock-hours-off.tolerance'),
            unit: 'min',
          },
          sources: [context.limits.setting('device-clock-hours-off.tolerance').source],
        },
      ];
    }),
};
