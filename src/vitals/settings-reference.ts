/** How far a reading may lie from a known value (a practice arm, a simulator, a calibrated device). */
import { REFERENCE_PRACTICE } from './limits-sources.js';
import type { SettingRows } from './setting.js';

export const REFERENCE_SETTINGS = {
  'reference-check.systolic': {
    at: 10,
    unit: '%',
    source: REFERENCE_PRACTICE,
    words: 'A systolic pressure up to this percentage of the known one away from it passes.',
    range: [1, 30],
  },
  'reference-check.diastolic': {
    at: 10,
    unit: '%',
    source: REFERENCE_PRACTICE,
    words: 'A diastolic pressure up to this percentage of the known one away from it passes.',
    range: [1, 30],
  },
} satisfies SettingRows;
