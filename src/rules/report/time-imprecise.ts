import { TIME_OF_METRIC } from '../../vitals/limits-sources-devices.js';
import { arrivalInstead, HELD, reportRule } from '../report-rule.js';

export const timeImprecise = reportRule('time-imprecise', HELD, {
  words: 'The time of measuring was told less exactly than to the minute.',
  clause: (about, context) =>
    `the time of measuring was told less exactly than to the minute${arrivalInstead(about, context)}`,
  advice: 'Find out when it was measured, and have the message tell the time to the second.',
  source: TIME_OF_METRIC,
});
