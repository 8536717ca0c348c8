import { RESULT_STATUS } from '../../vitals/limits-sources-devices.js';
import { NOTED, reportRule } from '../report-rule.js';

export const originalNotFound = reportRule('original-not-found', NOTED, {
  words: 'It was sent as a correction of something that was never received here.',
  clause: () => 'it was sent as a correction, and what it corrects was never received here',
  advice: 'See whether the first value was charted by another way, and have that put right.',
  source: RESULT_STATUS,
});
