import { UNIT_TRAP } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount } from '../wording.js';

export const celsiusSuspected: ReadingRule = {
  id: 'celsius-suspected',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A temperature sent in Fahrenheit that reads as Celsius.',
  source: UNIT_TRAP,
  since: 1,
  appliesTo: ['body-temperature'],
  check: ({ reading, slip }, { limits }) =>
    slip === 'celsius'
      ? [
          {
            readings: [reading.index],
            message: `Body temperature ${amount(reading, 'value')}: the number typed in a Fahrenheit field reads as Celsius.`,
            advice: 'Send it again with the unit of the thermometer.',
            sources: [limits.setting('celsius-suspected.below').source],
          },
        ]
      : NO_REMARKS,
};
