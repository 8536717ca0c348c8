import { IRREGULAR_PULSE } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const irregularCountShort: ReadingRule = {
  id: 'irregular-count-short',
  stage: 'reading',
  verdict: 'noted',
  words: 'An irregular pulse was counted for too short a time.',
  source: IRREGULAR_PULSE,
  since: 1,
  appliesTo: ['pulse-rate'],
  check: ({ reading }, { limits }) => {
    const { entered, context } = reading;
    if (context.regular !== false || entered === null || !('count' in entered)) return NO_REMARKS;
    const { at: limit, source } = limits.setting('irregular-count-short.seconds');
    if (entered.seconds >= limit) return NO_REMARKS;
    return [
      {
        readings: [reading.index],
        message: `The rhythm is irregular and was counted for ${entered.seconds} s only.`,
        advice: `Count for ${limit} s, better at the apex.`,
        figures: { value: entered.seconds, limit, unit: 's' },
        sources: [source],
      },
    ];
  },
};
