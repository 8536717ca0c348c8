import { ARM_LEVEL } from '../../vitals/limits-sources-measuring.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const armNotAtHeartLevel: ReadingRule = {
  id: 'arm-not-at-heart-level',
  stage: 'reading',
  verdict: 'noted',
  words: 'The arm was not at the level of the heart.',
  source: ARM_LEVEL,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }) =>
    reading.context.armAtHeartLevel === false
      ? [
          {
            readings: [reading.index],
            message:
              'The arm was not at heart level: the pressure reads about 0.8 mmHg higher for each centimetre below it, and lower for each above.',
            advice: 'Support the arm at the level of the heart and measure again.',
          },
        ]
      : NO_REMARKS,
};
