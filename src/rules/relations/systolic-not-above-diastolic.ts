import { DEFINITION } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

/** Zero over zero is a device without a signal; the rule of that name says so. */
export const systolicNotAboveDiastolic: ReadingRule = {
  id: 'systolic-not-above-diastolic',
  stage: 'reading',
  verdict: 'rejected',
  words: 'The systolic pressure is not above the diastolic.',
  source: DEFINITION,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }) => {
    const { systolic, diastolic } = reading.values;
    if (systolic === undefined || diastolic === undefined) return NO_REMARKS;
    if (systolic.number > diastolic.number || systolic.number === 0) return NO_REMARKS;
    return [
      {
        readings: [reading.index],
        message: `Pressure ${pressure(reading)}: the systolic must lie above the diastolic.`,
        advice:
          'Check whether the two were exchanged or mistyped; send them again, or measure again.',
      },
    ];
  },
};
