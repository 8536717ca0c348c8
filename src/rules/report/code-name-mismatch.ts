import { DEVICE_CODES } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const codeNameMismatch = reportRule('code-name-mismatch', HELD, {
  words: 'The number of a code and the name beside it mean different things.',
  clause: () =>
    'the number of its code and the name beside it do not belong together, so it may be another sign',
  advice: 'Compare it with the display of the device, and have the code in the message put right.',
  source: DEVICE_CODES,
});
