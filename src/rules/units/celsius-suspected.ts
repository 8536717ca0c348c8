import { CELSIUS_AS_FAHRENHEIT } from '../../vitals/limits-relations.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount } from '../wording.js';

export const celsiusSuspected: ReadingRule = {
  id: 'celsius-suspected',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A temperature sent in Fahrenheit that reads as Celsius.',
  source: CELSIUS_AS_FAHRENHEIT.source,
  since: 1,
  appliesTo: ['body-temperature'],
  check: ({ reading, slip }) =>
    slip === 'celsius'
      ? [
          {
            readings: [reading.index],
            message: `Body temperature ${amount(reading, 'value')}: the number typed in a Fahrenheit field reads as Celsius.`,
            advice: 'Send it again with the unit of the thermometer.',
          },
        ]
      : NO_REMARKS,
};
