import { DEVICE_CLOCKS } from '../../vitals/limits-sources.js';
import { arrivalInstead, HELD, reportRule } from '../report-rule.js';

export const clockUnset = reportRule('clock-unset', HELD, {
  words: 'The clock of the device was never set: it shows a time before the year 2000.',
  clause: (about, context) =>
    `the clock of the device was never set, it shows a time before the year 2000${arrivalInstead(about, context)}`,
  advice: 'Set the clock of the device, and find out when this was measured.',
  source: DEVICE_CLOCKS,
});
