import { MEAN_SHARE } from '../../vitals/limits-relations.js';
import { MEAN_FRACTION } from '../../vitals/limits-sources.js';
import { isMeanOutside } from '../facts.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, pressure } from '../wording.js';

export const meanFractionUnusual: ReadingRule = {
  id: 'mean-fraction-unusual',
  stage: 'reading',
  verdict: 'noted',
  words: 'The mean pressure lies unusually near to the diastolic or to the systolic.',
  source: MEAN_FRACTION,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (facts) => {
    const { reading } = facts;
    const { mean } = reading.values;
    const found = mean === undefined ? null : findPulsePressure(facts);
    if (found === null || mean === undefined || isMeanOutside(reading)) return NO_REMARKS;
    const share = (mean.number - found.diastolic) / found.difference;
    const percent = Math.round(share * 100);
    if (share >= MEAN_SHARE.low.at && share <= MEAN_SHARE.high.at) return NO_REMARKS;
    const [low, high] = [MEAN_SHARE.low.at * 100, MEAN_SHARE.high.at * 100];
    return [
      {
        readings: [reading.index],
        message: `Mean pressure ${amount(reading, 'mean')} lies ${percent} % of the way from diastolic to systolic (${pressure(reading)}); usual is ${low} to ${high} %.`,
        advice: 'Check the three numbers, and measure again if in doubt.',
        figures: { value: percent, limit: share < MEAN_SHARE.low.at ? low : high, unit: '%' },
      },
    ];
  },
};
