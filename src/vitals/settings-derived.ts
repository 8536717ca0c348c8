/** How a mean pressure is calculated, where a site asks for that (`derived-values.ts`). */
import { MEAN_FORMULA } from './limits-sources-measuring.js';
import type { SettingRows } from './setting.js';

export const DERIVED_SETTINGS = {
  // Other published choices are 0.40 (Bos 2007) and 0.412. Against the curve of the pulse they lay 5.0
  // (a third), 1.2 and 0.6 mmHg low, with limits of ± 6 to 7 (Grillo et al., J Hypertens 38:2161, 2020).
  'derived-values.mean-factor': {
    at: 1 / 3,
    unit: '1',
    source: MEAN_FORMULA,
    words:
      'A calculated mean lies this share of the pulse pressure above the diastolic; as it comes, a third.',
    range: [0.3, 0.5],
  },
} satisfies SettingRows;
