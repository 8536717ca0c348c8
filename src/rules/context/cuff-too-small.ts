import { CUFF_TABLE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnCuff, type CuffBounds } from '../cuff-fit.js';
import type { ReadingRule } from '../rule.js';

const BOUNDS: CuffBounds = {
  infant: 'cuff-too-small.child',
  child: 'cuff-too-small.child',
  'small-adult': 'cuff-too-small.small-adult',
  adult: 'cuff-too-small.adult',
  'large-adult': 'cuff-too-small.large-adult',
  thigh: 'cuff-too-small.thigh',
};

export const cuffTooSmall: ReadingRule = {
  id: 'cuff-too-small',
  stage: 'reading',
  verdict: 'noted',
  words: 'The cuff is too small for the circumference of the arm.',
  source: CUFF_TABLE,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading }, { limits }) => remarkOnCuff(reading, limits, BOUNDS, 'small'),
};
