import { DEVICE_CLOCKS } from '../../vitals/limits-sources.js';
import type { SetRule } from '../rule.js';
import { remarkOnSourceClock } from '../source-clock.js';

const ADVICE = 'Have the clock of the sending system set, best by a time service.';

export const sourceClockOff: SetRule = {
  id: 'source-clock-off',
  stage: 'set',
  verdict: 'noted',
  words: 'The clock of the sending system is off.',
  source: DEVICE_CLOCKS,
  since: 1,
  check: (context) => remarkOnSourceClock('source-clock-off', ADVICE, context),
};
