import { TYPED_ADMISSION_DATA } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

export const typedInValue = reportRule('typed-in-value', HELD, {
  words: 'The value was typed into the device by somebody, not measured by it.',
  clause: () => 'it was typed into the device by somebody, not measured by it, and may be old',
  advice: 'Ask who typed it and when it was measured; measure again if nobody knows.',
  source: TYPED_ADMISSION_DATA,
});
