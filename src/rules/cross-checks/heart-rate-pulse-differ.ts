import { OBSERVERS } from '../../vitals/limits-sources.js';
import { findPairs } from '../pairs.js';
import { remarkOnRates } from '../rate-pairs.js';
import type { AcrossRule } from '../rule.js';

const RULE = 'heart-rate-pulse-differ';
const ADVICE =
  'Count the pulse again for 60 s while looking at the trace; check that the device counts each beat once.';

/** What the heart does against what is felt: whether beats are lost on the way is not for one pair to say. */
export const heartRatePulseDiffer: AcrossRule = {
  id: RULE,
  stage: 'across',
  verdict: 'noted',
  words: 'Heart rate by electrocardiogram and palpated pulse differ.',
  source: OBSERVERS,
  since: 1,
  appliesTo: ['pulse-rate'],
  check: (context, standing) => {
    const comparison = {
      vital: 'pulse-rate',
      windowMs: context.limits.ms(`${RULE}.window`),
      byHand: ['palpation'],
      byDevice: ['electrocardiography'],
    } as const;
    return remarkOnRates(
      { name: 'Pulse', cap: `${RULE}.difference`, share: `${RULE}.share`, advice: ADVICE },
      context.limits,
      findPairs(comparison, context, standing),
    );
  },
};
