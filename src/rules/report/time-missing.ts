import { TIME_OF_METRIC } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const timeMissing = reportRule('time-missing', HELD, {
  words: 'No time of measuring was sent; that of the arrival stands in its place.',
  clause: () =>
    'no time of measuring was sent; the time of its arrival stands in its place, and it may be older',
  advice: 'Find out when it was measured, and have the message tell the time.',
  source: TIME_OF_METRIC,
});
