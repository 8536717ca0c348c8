import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnChange } from '../change.js';
import type { AcrossRule } from '../rule.js';

export const pulseRateChanged: AcrossRule = {
  id: 'pulse-rate-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'A pulse far from the patient’s own before, taken in the same way.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['pulse-rate'],
  check: (context, standing) =>
    remarkOnChange(context, standing, 'pulse-rate', [
      [
        'value',
        { limit: 'pulse-rate-changed.difference', window: 'blood-pressure-changed.window' },
      ],
    ]),
};
