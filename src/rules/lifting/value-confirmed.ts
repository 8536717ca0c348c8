import { CONFIRMATION } from '../../vitals/limits-sources.js';
import type { Reading } from '../../vitals/shapes.js';
import type { LiftingRule } from '../rule.js';

function isConfirmed({ context, report }: Reading): boolean {
  return context.confirmed === true && report?.reviewed !== false;
}

/**
 * Counts from a person or an attended source only, and not where a message says that nobody reviewed the
 * value: a device that nobody watches confirms nothing.
 */
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
    return doubted.length > 0 && doubted.every(isConfirmed)
      ? { remark: 'It was measured again and confirmed.' }
      : null;
  },
};
