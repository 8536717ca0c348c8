import { TIME_OF_METRIC } from '../../vitals/limits-sources-devices.js';
import { NOTED, reportRule } from '../report-rule.js';

export const timeToMinuteOnly = reportRule('time-to-minute-only', NOTED, {
  words: 'The time of measuring was told to the minute only.',
  clause: () => 'the time of measuring was told to the minute only',
  advice: 'Have the message tell the time to the second.',
  source: TIME_OF_METRIC,
});
