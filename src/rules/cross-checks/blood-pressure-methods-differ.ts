import { TOLERABLE_ERROR } from '../../vitals/limits-sources.js';
import { remarkOnPressures } from '../pressure-pairs.js';
import type { AcrossRule } from '../rule.js';

const ADVICE =
  'Rest the arm at heart level, check the cuff size, and measure once more if in doubt.';

export const bloodPressureMethodsDiffer: AcrossRule = {
  id: 'blood-pressure-methods-differ',
  stage: 'across',
  verdict: 'noted',
  words:
    'Pressure by hand and by automatic cuff on the same arm differ more than agreeing ones do.',
  source: TOLERABLE_ERROR,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) => remarkOnPressures('differ', ADVICE, context, standing),
};
