import { DEVICE_CODES } from '../../vitals/limits-sources-devices.js';
import { NOTED, reportRule } from '../report-rule.js';

export const codeByNameOnly = reportRule('code-by-name-only', NOTED, {
  words: 'A code was sent by its name alone, which has one meaning only.',
  clause: () => 'its code was sent by name alone; the name has one meaning, by which it was read',
  advice: 'Have the message send the number of the code as well.',
  source: DEVICE_CODES,
});
