import { OBSERVERS, proposedAfter } from '../../vitals/limits-sources.js';
import { remarkOnPressures } from '../pressure-pairs.js';
import type { AcrossRule } from '../rule.js';

const ADVICE =
  'Measure again by both methods on the same arm, at rest, arm at heart level, with the right cuff. Look at the device if it stays so.';

export const bloodPressureMethodsDisagree: AcrossRule = {
  id: 'blood-pressure-methods-disagree',
  stage: 'across',
  verdict: 'held',
  hold: 'value',
  words: 'Pressure by hand and by automatic cuff on the same arm contradict each other.',
  source: proposedAfter(OBSERVERS),
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) => remarkOnPressures('disagree', ADVICE, context, standing),
};
