import { DEFINITION } from '../../vitals/limits-sources.js';
import { isMeanOutside } from '../facts.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, pressure } from '../wording.js';

/** The two pressures go on: a faulty mean must not hold back a critical systolic. */
export const meanOutsidePressures: ReadingRule = {
  id: 'mean-outside-pressures',
  stage: 'reading',
  verdict: 'noted',
  words: 'The mean pressure does not lie between diastolic and systolic, so it is left out.',
  source: DEFINITION,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }) =>
    isMeanOutside(reading)
      ? [
          {
            readings: [reading.index],
            message: `Mean pressure ${amount(reading, 'mean')} does not lie between the pressures ${pressure(reading)}; it is left out.`,
            advice: 'Use the two pressures; check the device if this comes again.',
            partInError: 'mean',
          },
        ]
      : NO_REMARKS,
};
