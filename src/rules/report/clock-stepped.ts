import { CLOCK_STEPS } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const clockStepped = reportRule('clock-stepped', HELD, {
  words: 'The clock of the device was set while these readings were taken.',
  clause: () =>
    'the clock of the device was set while this was measured, so its time may be that of before or after',
  advice: 'Find out when it was measured; set the clock of a device between two patients.',
  source: CLOCK_STEPS,
});
