import { RESULT_STATUS } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const statusUnclear = reportRule('status-unclear', HELD, {
  words: 'The status that came with a value is missing, unknown, or says that there is no value.',
  clause: () =>
    'the status that came with it is missing, unknown, or says that there is no value, so it is not clear whether it holds',
  advice:
    'Compare it with the display of the device, and have the status in the message put right.',
  source: RESULT_STATUS,
});
