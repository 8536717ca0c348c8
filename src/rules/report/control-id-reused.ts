import { CONTROL_ID } from '../../vitals/limits-sources-devices.js';
import { NOTED, reportRule } from '../report-rule.js';

export const controlIdReused = reportRule('control-id-reused', NOTED, {
  words:
    'A message has the control id of an earlier one and other content: it was taken as a new one.',
  clause: () =>
    'its message has the control id of an earlier one and other content, so it was taken as a new one',
  advice: 'Have the sender give each message a control id of its own.',
  source: CONTROL_ID,
});
