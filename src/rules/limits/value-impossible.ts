import { MIMIC_BENCHMARK } from '../../vitals/limits-sources.js';
import { breachFigures, breachText, findBreaches } from '../breaches.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const valueImpossible: ReadingRule = {
  id: 'value-impossible',
  stage: 'reading',
  verdict: 'rejected',
  words: 'The value lies outside anything that can be a measurement of this sign.',
  source: MIMIC_BENCHMARK,
  since: 1,
  check: (facts, { limits }) => {
    const breaches = findBreaches(facts, 'reject', limits);
    if (breaches.length === 0) return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `${breachText(facts.reading, breaches)}: this cannot be a measurement.`,
        advice: 'Check digits, field and unit; send the value as it was read, or measure again.',
        ...breachFigures(facts.reading, breaches),
      },
    ];
  },
};
