import { zeroMeaning } from '../../vitals/limits-plausible.js';
import { KOROTKOFF } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const diastolicHeardToZero: ReadingRule = {
  id: 'diastolic-heard-to-zero',
  stage: 'reading',
  verdict: 'held',
  hold: 'value',
  words:
    'Sounds heard down to zero are a true finding, but the diastolic is then where they muffle.',
  source: KOROTKOFF,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }) =>
    reading.values.diastolic?.number === 0 &&
    zeroMeaning(reading.vital, 'diastolic', reading.method) === 'heard-to-zero'
      ? [
          {
            readings: [reading.index],
            message:
              'The sounds were heard down to zero; the diastolic pressure is then read where they become muffled (phase IV).',
            advice: 'Measure again and send the pressure at which the sounds become muffled.',
          },
        ]
      : NO_REMARKS,
};
