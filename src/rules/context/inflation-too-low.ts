import { INFLATION } from '../../vitals/limits-sources-measuring.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount } from '../wording.js';

export const inflationTooLow: ReadingRule = {
  id: 'inflation-too-low',
  stage: 'reading',
  verdict: 'noted',
  words: 'The cuff was inflated too little above the systolic.',
  source: INFLATION,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading, slip }, { limits }) => {
    const { inflatedTo } = reading.context;
    const systolic = reading.values.systolic?.number;
    if (inflatedTo === undefined || systolic === undefined || slip !== null) return NO_REMARKS;
    const { at: limit, source } = limits.setting('inflation-too-low.above');
    if (inflatedTo >= systolic + limit) return NO_REMARKS;
    return [
      {
        readings: [reading.index],
        message: `The cuff was inflated to ${inflatedTo} mmHg for a systolic of ${amount(reading, 'systolic')}: with less than ${limit} mmHg above it the true systolic may be missed.`,
        advice: 'Feel the systolic first, inflate 20 to 30 mmHg above it, and measure again.',
        figures: { value: inflatedTo, limit: systolic + limit, unit: 'mm[Hg]' },
        sources: [source],
      },
    ];
  },
};
