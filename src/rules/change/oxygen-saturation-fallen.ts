import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnChange } from '../change.js';
import type { AcrossRule } from '../rule.js';

export const oxygenSaturationFallen: AcrossRule = {
  id: 'oxygen-saturation-fallen',
  stage: 'across',
  verdict: 'noted',
  words: 'A saturation well below the patient’s own before, taken in the same way.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['oxygen-saturation'],
  check: (context, standing) =>
    remarkOnChange(context, standing, 'oxygen-saturation', [
      [
        'value',
        {
          limit: 'oxygen-saturation-fallen.fall',
          window: 'blood-pressure-changed.window',
          onlyFall: true,
        },
      ],
    ]),
};
