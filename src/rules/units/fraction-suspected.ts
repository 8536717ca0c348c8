import { PROPOSED } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, sentence, signName } from '../wording.js';

export const fractionSuspected: ReadingRule = {
  id: 'fraction-suspected',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A share of oxygen that reads as a fraction of one where percent was sent.',
  source: PROPOSED,
  since: 1,
  appliesTo: ['oxygen-saturation', 'inspired-oxygen'],
  check: ({ reading, slip }, { limits }) =>
    slip === 'fraction'
      ? [
          {
            readings: [reading.index],
            message: `${sentence(signName(reading.vital, 'value'))} ${amount(reading, 'value')} reads as a fraction of one, not as percent.`,
            advice: 'Send it again in percent.',
            sources: [limits.setting('fraction-suspected.up-to').source],
          },
        ]
      : NO_REMARKS,
};
