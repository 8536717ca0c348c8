import { MEAN_FRACTION } from '../../vitals/limits-sources.js';
import { isMeanOutside } from '../facts.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, pressure } from '../wording.js';

/** Free of the noise of binary fractions. */
const asPercent = (share: number): number => Math.round(share * 1e4) / 100;

export const meanFractionUnusual: ReadingRule = {
  id: 'mean-fraction-unusual',
  stage: 'reading',
  verdict: 'noted',
  words: 'The mean pressure lies unusually near to the diastolic or to the systolic.',
  source: MEAN_FRACTION,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (facts, { limits }) => {
    const { reading } = facts;
    const { mean } = reading.values;
    const found = mean === undefined ? null : findPulsePressure(facts, limits);
    if (found === null || mean === undefined || isMeanOutside(reading)) return NO_REMARKS;
    const share = (mean.number - found.diastolic) / found.difference;
    const percent = Math.round(share * 100);
    const low = limits.setting('mean-fraction-unusual.low');
    const high = limits.setting('mean-fraction-unusual.high');
    if (share >= low.at && share <= high.at) return NO_REMARKS;
    const met = share < low.at ? low : high;
    return [
      {
        readings: [reading.index],
        message: `Mean pressure ${amount(reading, 'mean')} lies ${percent} % of the way from diastolic to systolic (${pressure(reading)}); usual is ${asPercent(low.at)} to ${asPercent(high.at)} %.`,
        advice: 'Check the three numbers, and measure again if in doubt.',
        figures: { value: percent, limit: asPercent(met.at), unit: '%' },
        sources: [met.source],
      },
    ];
  },
};
