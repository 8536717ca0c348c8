import { THERMOMETER_SITES } from '../../vitals/limits-sources.js';
import type { AcrossRule } from '../rule.js';
import { remarkOnTemperatures } from '../temperature-pairs.js';

const ADVICE =
  'Measure again at both sites, one of them with another thermometer. Do not convert one site into another.';

export const temperatureSitesDisagree: AcrossRule = {
  id: 'temperature-sites-disagree',
  stage: 'across',
  verdict: 'held',
  hold: 'value',
  words: 'Temperatures of two sites contradict each other.',
  source: THERMOMETER_SITES,
  since: 1,
  appliesTo: ['body-temperature'],
  check: (context, standing) =>
    remarkOnTemperatures('temperature-sites-disagree', ADVICE, context, standing),
};
