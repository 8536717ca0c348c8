import { CONFIRMATION } from '../../vitals/limits-sources.js';
import type { LiftingRule } from '../rule.js';

/** Counts from a person or an attended source only: a device that nobody watches confirms nothing. */
export const valueConfirmed: LiftingRule = {
  id: 'value-confirmed',
  stage: 'lift',
  verdict: 'noted',
  words: 'A person measured again and the improbable value stands.',
  source: CONFIRMATION,
  since: 1,
  lifts: ['value-doubtful', 'pulse-pressure-narrow', 'respiratory-rate-above-pulse'],
  check: (held, { source, set }) => {
    if (!source.attended) return null;
    const doubted = set.readings.filter(({ index }) => held.readings.includes(index));
    return doubted.length > 0 && doubted.every(({ context }) => context.confirmed === true)
      ? { remark: 'It was measured again and confirmed.' }
      : null;
  },
};
