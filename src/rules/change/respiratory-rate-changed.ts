import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnChange } from '../change.js';
import type { AcrossRule } from '../rule.js';

export const respiratoryRateChanged: AcrossRule = {
  id: 'respiratory-rate-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'A respiratory rate far from the patient’s own before, taken in the same way.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['respiratory-rate'],
  check: (context, standing) =>
    remarkOnChange(context, standing, 'respiratory-rate', [
      [
        'value',
        { limit: 'respiratory-rate-changed.difference', window: 'blood-pressure-changed.window' },
      ],
    ]),
};
