import { DEVICE_CLOCKS } from '../../vitals/limits-sources.js';
import type { JudgingContext } from '../../vitals/shapes.js';
import { remarkEachOrAll } from '../each-or-all.js';
import type { SetRule } from '../rule.js';

/** A clock that a time service keeps can be held to less. */
function aheadOf({ source }: JudgingContext) {
  return source.synchronised === true
    ? 'time-in-future.ahead-synchronised'
    : 'time-in-future.ahead';
}

export const timeInFuture: SetRule = {
  id: 'time-in-future',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'The time of measuring lies further after the arrival than clocks may differ.',
  source: DEVICE_CLOCKS,
  since: 1,
  check: (context) => {
    const { set, receivedAtMs, limits } = context;
    const id = aheadOf(context);
    const latestMs = receivedAtMs + limits.ms(id);
    const ahead = set.readings.filter(({ takenAt }) => takenAt.epochMs > latestMs);
    const { at: limit, source } = limits.setting(id);
    return remarkEachOrAll(set, ahead, (about) => {
      const nearestMs = Math.min(...about.map(({ takenAt }) => takenAt.epochMs)) - receivedAtMs;
      const minutes = Math.ceil(nearestMs / 60_000);
      return {
        message: `The time of measuring lies ${minutes} minutes after the set arrived, so one of the clocks is wrong.`,
        advice: 'Check date, time and zone of the device or page, and send the true time.',
        figures: { difference: minutes, limit, unit: 'min' },
        sources: [source],
      };
    });
  },
};
