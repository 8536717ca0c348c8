import { CLOCK_ACCURACY } from '../../vitals/limits-sources-devices.js';
import type { SetRule } from '../rule.js';
import { remarkOnSourceClock } from '../source-clock.js';

const ADVICE =
  'Have the clock of the sending system set, best by a time service. A reviewer can give the true time.';

export const sourceClockFarOff: SetRule = {
  id: 'source-clock-far-off',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'The clock of the sending system is so far off that its times cannot be relied upon.',
  source: CLOCK_ACCURACY,
  since: 1,
  check: (context) => remarkOnSourceClock('source-clock-far-off', ADVICE, context),
};
