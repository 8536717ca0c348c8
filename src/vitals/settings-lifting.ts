/**
 * How near a second reading must come to support a doubtful one. Saturation has none: below 70 % no
 * accuracy is stated for oximeters. Nor have mean pressure, size and oxygen given.
 */
import {
  OBSERVERS,
  OBSERVERS_BREATHING,
  PROPOSED,
  THERMOMETER_SITES,
  TOLERABLE_ERROR,
} from './limits-sources.js';
import type { SettingRows } from './setting.js';

export const LIFTING_SETTINGS = {
  'value-corroborated.blood-pressure': {
    at: 10,
    unit: 'mm[Hg]',
    source: TOLERABLE_ERROR,
    words: 'A second pressure up to so far away supports a doubtful one.',
    range: [0, 30],
  },
  'value-corroborated.pulse-rate': {
    at: 10,
    unit: '/min',
    source: OBSERVERS,
    words: 'A second pulse up to so far away supports a doubtful one.',
    range: [0, 30],
  },
  'value-corroborated.respiratory-rate': {
    at: 6,
    unit: '/min',
    source: OBSERVERS_BREATHING,
    words: 'A second respiratory rate up to so far away supports a doubtful one.',
    range: [0, 20],
  },
  'value-corroborated.body-temperature': {
    at: 0.6,
    unit: 'Cel',
    source: THERMOMETER_SITES,
    words: 'A second temperature up to so far away supports a doubtful one.',
    range: [0, 2],
  },
  'value-corroborated.window': {
    at: 5,
    unit: 'min',
    source: PROPOSED,
    words: 'A second reading up to so far away in time can support a doubtful one.',
    window: 'compared',
  },
} satisfies SettingRows;
