import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnChange } from '../change.js';
import type { AcrossRule } from '../rule.js';

export const bloodPressureChanged: AcrossRule = {
  id: 'blood-pressure-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'A pressure far from the patient’s own before, taken in the same way.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) =>
    remarkOnChange(context, standing, 'blood-pressure', [
      [
        'systolic',
        { limit: 'blood-pressure-changed.systolic', window: 'blood-pressure-changed.window' },
      ],
      [
        'diastolic',
        { limit: 'blood-pressure-changed.diastolic', window: 'blood-pressure-changed.window' },
      ],
    ]),
};
