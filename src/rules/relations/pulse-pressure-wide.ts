import { PROPOSED } from '../../vitals/limits-sources.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

export const pulsePressureWide: ReadingRule = {
  id: 'pulse-pressure-wide',
  stage: 'reading',
  verdict: 'noted',
  words: 'Systolic and diastolic lie very far apart.',
  source: PROPOSED,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (facts, { limits }) => {
    const found = findPulsePressure(facts, limits);
    const limit = limits.setting('pulse-pressure-wide.from');
    if (found === null || found.difference < limit.at) return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `Pressure ${pressure(facts.reading)}: systolic and diastolic are ${found.difference} mmHg apart; ${limit.at} mmHg or more is unusual.`,
        advice: 'Check both numbers, and measure again if in doubt.',
        figures: { difference: found.difference, limit: limit.at, unit: 'mm[Hg]' },
        sources: [limit.source],
      },
    ];
  },
};
