import { PROPOSED } from '../../vitals/limits-sources.js';
import { remarkEachOrAll } from '../each-or-all.js';
import { isTimeKnown } from '../report-doubts.js';
import { subjectOf } from '../report-rule.js';
import { NO_REMARKS, type SetRule } from '../rule.js';
import { duration } from '../wording.js';

/** Speaks of messages of devices only: a person may well chart what was measured a week ago. */
export const readingDaysOld: SetRule = {
  id: 'reading-days-old',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'By its time a device measured it days ago: the clock may be wrong, or it was stored.',
  source: PROPOSED,
  since: 1,
  check: ({ set, receivedAtMs, limits }) => {
    const afterMs = limits.ms('reading-days-old.after');
    const old = set.readings.filter(
      (reading) =>
        reading.report !== undefined &&
        receivedAtMs - reading.takenAt.epochMs > afterMs &&
        isTimeKnown(reading),
    );
    if (old.length === 0) return NO_REMARKS;
    const { at: limit, source } = limits.setting('reading-days-old.after');
    return remarkEachOrAll(set, old, (about) => {
      const latestMs = Math.max(...about.map(({ takenAt }) => takenAt.epochMs));
      const days = Math.floor((receivedAtMs - latestMs) / 86_400_000);
      return {
        message: `${subjectOf(about, set)}: by its time it was measured ${duration(receivedAtMs - latestMs)} before it arrived: the clock of the device may be wrong, or it had stored this.`,
        advice:
          'Compare the clock of the device with the true time, and find out when it was measured.',
        figures: { difference: days, limit, unit: 'd' },
        sources: [source],
      };
    });
  },
};
