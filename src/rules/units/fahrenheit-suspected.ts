import { UNIT_TRAP } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const fahrenheitSuspected: ReadingRule = {
  id: 'fahrenheit-suspected',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A temperature sent in Celsius that reads as Fahrenheit.',
  source: UNIT_TRAP,
  since: 1,
  appliesTo: ['body-temperature'],
  check: ({ reading, slip }, { limits }) =>
    slip === 'fahrenheit'
      ? [
          {
            readings: [reading.index],
            message: `${reading.values.value?.text ?? ''} in a Celsius field reads as Fahrenheit; it was not converted.`,
            advice: 'Send it again with the unit of the thermometer.',
            sources: [limits.setting('fahrenheit-suspected.from').source],
          },
        ]
      : NO_REMARKS,
};
