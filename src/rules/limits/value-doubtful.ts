import { OHDSI } from '../../vitals/limits-sources.js';
import { breachFigures, breachText, findBreaches } from '../breaches.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const valueDoubtful: ReadingRule = {
  id: 'value-doubtful',
  stage: 'reading',
  verdict: 'held',
  hold: 'value',
  words: 'The value is possible but improbable, and nothing supports it yet.',
  source: OHDSI,
  since: 1,
  check: (facts, { limits }) => {
    const breaches = findBreaches(facts, 'hold', limits);
    if (breaches.length === 0 || findBreaches(facts, 'reject', limits).length > 0)
      return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `${breachText(facts.reading, breaches)}: possible, but so rare that it needs a second measurement.`,
        advice:
          'Look at the patient. Measure again, if you can by another method or device, and send the value as confirmed if it stands.',
        ...breachFigures(facts.reading, breaches),
      },
    ];
  },
};
