import { TEST_MARKS } from '../../vitals/limits-sources-devices.js';
import { REJECTED, reportRule } from '../report-rule.js';

export const testData = reportRule('test-data', REJECTED, {
  words: 'The message or the device says that this is a test or a demonstration.',
  clause: () => 'marked as a test or a demonstration, so this is no measurement of a patient',
  advice:
    'If it hangs on a patient, take the device out of its test or demonstration mode and measure again.',
  source: TEST_MARKS,
});
