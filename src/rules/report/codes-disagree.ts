import { DEVICE_CODES } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const codesDisagree = reportRule('codes-disagree', HELD, {
  words: 'Two codes of different systems that came with one value name different signs.',
  clause: () => 'the codes that came with it name different signs, so it may be another one',
  advice: 'Compare it with the display of the device, and have the codes in the message put right.',
  source: DEVICE_CODES,
});
