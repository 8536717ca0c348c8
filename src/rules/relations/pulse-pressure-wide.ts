import { WIDE_PULSE_PRESSURE } from '../../vitals/limits-relations.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

export const pulsePressureWide: ReadingRule = {
  id: 'pulse-pressure-wide',
  stage: 'reading',
  verdict: 'noted',
  words: 'Systolic and diastolic lie very far apart.',
  source: WIDE_PULSE_PRESSURE.source,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (facts) => {
    const found = findPulsePressure(facts);
    if (found === null || found.difference < WIDE_PULSE_PRESSURE.at) return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `Pressure ${pressure(facts.reading)}: systolic and diastolic are ${found.difference} mmHg apart; ${WIDE_PULSE_PRESSURE.at} mmHg or more is unusual.`,
        advice: 'Check both numbers, and measure again if in doubt.',
        figures: {
          difference: found.difference,
          limit: WIDE_PULSE_PRESSURE.at,
          unit: 'mm[Hg]',
        },
      },
    ];
  },
};
