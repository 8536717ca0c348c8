import { WAYS_OF_OBSERVING } from '../../vitals/limits-sources-devices.js';
import { REJECTED, reportRule } from '../report-rule.js';

export const settingNotMeasurement = reportRule('setting-not-measurement', REJECTED, {
  words: 'The value was set on the device, not measured by it.',
  clause: () => 'this was set on the device, not measured by it',
  advice: 'A setting is not charted as a vital sign: have the device send what it measures.',
  source: WAYS_OF_OBSERVING,
});
