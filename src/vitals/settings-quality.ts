/** Signs that a value was not measured, or not at the time it tells. */
import { DEVICE_CLOCKS, PROPOSED } from './limits-sources.js';
import { COUNTING_WINDOW, IDENTICAL_SETS, MANUAL_SCALE } from './limits-sources-measuring.js';
import type { SettingRows } from './setting.js';

export const QUALITY_SETTINGS = {
  'count-and-window-disagree.seconds': {
    at: 60,
    unit: 's',
    source: COUNTING_WINDOW,
    words:
      'The length of this site’s counts: a rate typed without count that no count of this length can give is noted.',
    range: [10, 60],
  },
  'odd-last-digit.step': {
    at: 2,
    unit: 'mm[Hg]',
    source: MANUAL_SCALE,
    words: 'A pressure by stethoscope that is no multiple of this is noted.',
    range: [1, 5],
  },
  'set-unchanged.numbers': {
    at: 6,
    unit: '1',
    source: IDENTICAL_SETS,
    words: 'A set of so many numbers or more, all as in the set before, is noted.',
    range: [3, 20],
  },
  'set-unchanged.after': {
    at: 30,
    unit: 'min',
    source: PROPOSED,
    words: 'Sets must lie further apart in time than this to be held against each other.',
    range: [1, 1440],
  },
  'set-unchanged.window': {
    at: 24,
    unit: 'h',
    source: PROPOSED,
    words: 'The set before counts up to so long before.',
    window: 'history',
  },
  'device-clock-hours-off.tolerance': {
    at: 2,
    unit: 'min',
    source: DEVICE_CLOCKS,
    words: 'A delay so near to a whole number of hours is noted as a clock in another zone.',
    range: [0, 10],
  },
  'device-clock-hours-off.most': {
    at: 14,
    unit: 'h',
    source: DEVICE_CLOCKS,
    words: 'Delays of more whole hours than this are no zone’s.',
    range: [1, 26],
  },
  'device-clock-drifted.delay': {
    at: 5,
    unit: 'min',
    source: DEVICE_CLOCKS,
    words: 'A device each of whose last readings arrived more than this after its time is noted.',
    range: [1, 60],
  },
  'device-clock-drifted.readings': {
    at: 4,
    unit: '1',
    source: PROPOSED,
    words:
      'So many arrivals of a device for one patient, the present one among them, tell its drift.',
    range: [2, 20],
  },
  'device-clock-drifted.window': {
    at: 24,
    unit: 'h',
    source: PROPOSED,
    words: 'Arrivals of the device count up to so long before.',
    window: 'history',
  },
} satisfies SettingRows;
