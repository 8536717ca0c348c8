import { COUNTING_WINDOW } from '../../vitals/limits-sources-measuring.js';
import type { Reading } from '../../vitals/shapes.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, sentence, signName } from '../wording.js';

/** Counted by a person, and sent as a rate: how long the count was is not told. */
function isTypedRate({ method, device, entered }: Reading): boolean {
  const counted = method === 'counted' || method === 'palpation' || method === 'auscultation';
  return counted && device === null && (entered === null || !('count' in entered));
}

/** Speaks only at a site that tells how long its counts are: a count of a minute gives every rate. */
export const countAndWindowDisagree: ReadingRule = {
  id: 'count-and-window-disagree',
  stage: 'reading',
  verdict: 'noted',
  words: 'A rate that a count of the site’s usual length cannot give.',
  source: COUNTING_WINDOW,
  since: 1,
  appliesTo: ['respiratory-rate', 'pulse-rate'],
  check: ({ reading }, { limits }) => {
    const { at: seconds, source } = limits.setting('count-and-window-disagree.seconds');
    const rate = reading.values.value?.number;
    if (seconds >= 60 || rate === undefined || !isTypedRate(reading)) return NO_REMARKS;
    if (!Number.isInteger(rate) || (rate * seconds) % 60 === 0) return NO_REMARKS;
    return [
      {
        readings: [reading.index],
        message: `${sentence(signName(reading.vital, 'value'))} ${amount(reading, 'value')} cannot come from a count of ${seconds} s.`,
        advice: 'Send the count and its seconds instead of the rate.',
        figures: { value: rate, limit: seconds, unit: 's' },
        sources: [source],
      },
    ];
  },
};
