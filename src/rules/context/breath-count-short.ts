import { COUNTING_WINDOW } from '../../vitals/limits-sources-measuring.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const breathCountShort: ReadingRule = {
  id: 'breath-count-short',
  stage: 'reading',
  verdict: 'noted',
  words: 'Breaths were counted for too short a time, for the age.',
  source: COUNTING_WINDOW,
  since: 1,
  appliesTo: ['respiratory-rate'],
  check: ({ reading, age }, { limits }) => {
    const { entered } = reading;
    if (entered === null || !('count' in entered)) return NO_REMARKS;
    const { seconds } = entered;
    // Where only the year of birth is known, who may be a young child counts as one.
    const young = age !== null && age.youngest.months < limits.at('breath-count-short.child-age');
    const { at: limit, source } = limits.setting(
      young ? 'breath-count-short.child-seconds' : 'breath-count-short.seconds',
    );
    if (seconds >= limit) return NO_REMARKS;
    const step = 60 / seconds;
    return [
      {
        readings: [reading.index],
        message: `Breaths were counted for ${seconds} s, so the rate is known only to ${step} a minute${young ? ', and a young child’s breathing varies' : ''}.`,
        advice: `Count for ${limit === 60 ? 'a whole minute' : `${limit} s or longer`}.`,
        figures: { value: seconds, limit, unit: 's' },
        sources: [source],
      },
    ];
  },
};
