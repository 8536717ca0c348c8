/** Times and clocks, and whose a device was at a time. */
import { CLOCK_ACCURACY, CLOCK_PAIRS, STALE_BUFFER } from './limits-sources-devices.js';
import { DEVICE_CLOCKS, PROPOSED } from './limits-sources.js';
import type { SettingRows } from './setting.js';

export const TIME_SETTINGS = {
  'time-in-future.ahead': {
    at: 5,
    unit: 'min',
    source: DEVICE_CLOCKS,
    words: 'A time of measuring further ahead of the arrival than this is held.',
    range: [0, 60],
    notBelow: ['time-in-future.ahead-synchronised'],
  },
  'time-in-future.ahead-synchronised': {
    at: 1,
    unit: 'min',
    source: PROPOSED,
    words: 'The same for a source whose clock is registered as kept by a time service.',
    range: [0, 60],
  },
  'source-clock-off.skew': {
    at: 60,
    unit: 's',
    source: PROPOSED,
    words: 'A sending system whose clock is further off than this is noted.',
    range: [5, 3600],
  },
  'source-clock-far-off.skew': {
    at: 300,
    unit: 's',
    source: CLOCK_ACCURACY,
    words: 'What a sending system whose clock is further off than this sends is held.',
    range: [5, 3600],
    readBy: ['source-clock-off'],
    notBelow: ['source-clock-off.skew'],
  },
  'reading-days-old.after': {
    at: 7,
    unit: 'd',
    source: PROPOSED,
    words: 'What a device measured longer ago than this is held.',
    range: [1, 60],
  },
  'clock-corrected.pair': {
    at: 10,
    unit: 'min',
    source: CLOCK_PAIRS,
    words: 'How far a device’s clock is off is relied upon up to so long after it was seen.',
    range: [1, 60],
    readBy: ['association-fresh'],
  },
  'association-fresh.quarantine': {
    at: 60,
    unit: 's',
    source: STALE_BUFFER,
    words:
      'What a device measured less than this after it was given to a patient is held while its clock is not known.',
    range: [0, 3600],
  },
} satisfies SettingRows;
