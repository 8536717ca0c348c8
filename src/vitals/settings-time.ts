/** Times and clocks. */
import { DEVICE_CLOCKS } from './limits-sources.js';
import type { SettingRows } from './setting.js';

export const TIME_SETTINGS = {
  'time-in-future.ahead': {
    at: 5,
    unit: 'min',
    source: DEVICE_CLOCKS,
    words: 'A time of measuring further ahead of the arrival than this is held.',
    range: [0, 60],
  },
} satisfies SettingRows;
