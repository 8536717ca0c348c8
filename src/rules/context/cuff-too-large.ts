import { CUFF_TABLE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnCuff, type CuffBounds } from '../cuff-fit.js';
import type { ReadingRule } from '../rule.js';

const BOUNDS: CuffBounds = {
  'small-adult': 'cuff-too-large.small-adult',
  adult: 'cuff-too-large.adult',
  'large-adult': 'cuff-too-large.large-adult',
  thigh: 'cuff-too-large.thigh',
};

export const cuffTooLarge: ReadingRule = {
  id: 'cuff-too-large',
  stage: 'reading',
  verdict: 'noted',
  words: 'The cuff is too large for the circumference of the arm.',
  source: CUFF_TABLE,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }, { limits }) => remarkOnCuff(reading, limits, BOUNDS, 'large'),
};
