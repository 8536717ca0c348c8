import { DEVICE_CLOCKS, type Limit } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type Remark, type SetRule } from '../rule.js';

/** One remark for the whole set where every reading is ahead, as with a wrong clock; else one each. */
export const timeInFuture: SetRule = {
  id: 'time-in-future',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'The time of measuring lies further after the arrival than clocks may differ.',
  source: DEVICE_CLOCKS,
  since: 1,
  check: ({ set, receivedAtMs, limits }) => {
    const latestMs = receivedAtMs + limits.ms('time-in-future.ahead');
    const ahead = set.readings.filter(({ takenAt }) => takenAt.epochMs > latestMs);
    if (ahead.length === 0) return NO_REMARKS;
    const limit = limits.setting('time-in-future.ahead');
    if (ahead.length === set.readings.length) {
      const nearestMs = Math.min(...ahead.map(({ takenAt }) => takenAt.epochMs));
      return [remark([], nearestMs - receivedAtMs, limit)];
    }
    return ahead.map(({ index, takenAt }) =>
      remark([index], takenAt.epochMs - receivedAtMs, limit),
    );
  },
};

function remark(readings: readonly number[], aheadMs: number, limit: Limit): Remark {
  const minutes = Math.ceil(aheadMs / 60_000);
  return {
    readings,
    message: `The time of measuring lies ${minutes} minutes after the set arrived, so one of the clocks is wrong.`,
    advice: 'Check date, time and zone of the device or page, and send the true time.',
    figures: { difference: minutes, limit: limit.at, unit: 'min' },
    sources: [limit.source],
  };
}
