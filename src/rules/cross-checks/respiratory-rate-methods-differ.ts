import { OBSERVERS_BREATHING } from '../../vitals/limits-sources.js';
import { findPairs } from '../pairs.js';
import { remarkOnRates } from '../rate-pairs.js';
import type { AcrossRule } from '../rule.js';

const RULE = 'respiratory-rate-methods-differ';
const ADVICE = 'Count the breaths for 60 s while the patient does not notice; trust the count.';

/** A note only: a rate by chest electrodes is often further off than a second observer would be. */
export const respiratoryRateMethodsDiffer: AcrossRule = {
  id: RULE,
  stage: 'across',
  verdict: 'noted',
  words: 'The counted respiratory rate and a device’s differ more than two observers do.',
  source: OBSERVERS_BREATHING,
  since: 1,
  appliesTo: ['respiratory-rate'],
  check: (context, standing) => {
    const comparison = {
      vital: 'respiratory-rate',
      windowMs: context.limits.ms(`${RULE}.window`),
      byHand: ['counted', 'auscultation'],
      byDevice: ['impedance', 'capnography', 'pulse-oximetry'],
    } as const;
    return remarkOnRates(
      {
        name: 'Respiratory rate',
        cap: `${RULE}.difference`,
        share: `${RULE}.share`,
        advice: ADVICE,
      },
      context.limits,
      findPairs(comparison, context, standing),
    );
  },
};
