import { CLOCK_PAIRS } from '../../vitals/limits-sources-devices.js';
import type { Reading } from '../../vitals/shapes.js';
import { isTimeKnown } from '../report-doubts.js';
import { subjectOf } from '../report-rule.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { lengthOfTime } from '../wording.js';

/** How far the clock was ahead (below zero: behind); null: the time is the one that it showed. */
function correctionMs(reading: Reading): number | null {
  const { report, takenAt } = reading;
  if (report?.deviceTime === undefined || !isTimeKnown(reading)) return null;
  const offMs = Date.parse(report.deviceTime) - takenAt.epochMs;
  return Number.isNaN(offMs) || offMs === 0 ? null : offMs;
}

export const clockCorrected: ReadingRule = {
  id: 'clock-corrected',
  stage: 'reading',
  verdict: 'noted',
  words: 'The clock of the device was off by a known amount, and the time was corrected by it.',
  source: CLOCK_PAIRS,
  since: 1,
  check: ({ reading }, { set }) => {
    const offMs = correctionMs(reading);
    if (offMs === null) return NO_REMARKS;
    return [
      {
        readings: [reading.index],
        message: `${subjectOf([reading], set)}: the clock of the device was ${lengthOfTime(Math.abs(offMs))} ${offMs > 0 ? 'ahead' : 'behind'}; the time of measuring is corrected by that.`,
        advice: 'Set the clock of the device.',
        figures: { difference: Math.round(Math.abs(offMs) / 1000), unit: 's' },
      },
    ];
  },
};
