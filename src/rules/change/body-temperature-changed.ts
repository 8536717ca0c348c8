import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { remarkOnChange } from '../change.js';
import type { AcrossRule } from '../rule.js';

export const bodyTemperatureChanged: AcrossRule = {
  id: 'body-temperature-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'A temperature far from the patient’s own before, taken at the same site.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['body-temperature'],
  check: (context, standing) =>
    remarkOnChange(context, standing, 'body-temperature', [
      [
        'value',
        {
          limit: 'body-temperature-changed.difference',
          window: 'body-temperature-changed.window',
          soon: {
            limit: 'body-temperature-changed.soon',
            window: 'body-temperature-changed.soon-window',
          },
        },
      ],
    ]),
};
