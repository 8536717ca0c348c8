import { THERMOMETER_SITES } from '../../vitals/limits-sources.js';
import type { AcrossRule } from '../rule.js';
import { remarkOnTemperatures } from '../temperature-pairs.js';

const ADVICE =
  'Keep to one site for this patient, and measure there again if in doubt. Do not convert one site into another.';

export const temperatureSitesDiffer: AcrossRule = {
  id: 'temperature-sites-differ',
  stage: 'across',
  verdict: 'noted',
  words: 'Temperatures of two sites differ more than two sites of one body usually do.',
  source: THERMOMETER_SITES,
  since: 1,
  appliesTo: ['body-temperature'],
  check: (context, standing) =>
    remarkOnTemperatures('temperature-sites-differ', ADVICE, context, standing),
};
