/** Circumstances of a measurement that make its value less certain. */
import { IRREGULAR_PULSE, PROPOSED } from './limits-sources.js';
import {
  BREATHS_OF_CHILDREN,
  COUNTING_WINDOW,
  CUFF_TABLE,
  DRINK_BEFORE_ORAL,
  INFLATION,
  POSITION_EFFECT,
} from './limits-sources-measuring.js';
import type { SettingRow, SettingRows } from './setting.js';

const arm = (at: number, words: string): SettingRow => ({
  at,
  unit: 'cm',
  source: CUFF_TABLE,
  words,
  range: [5, 80],
});

export const CONTEXT_SETTINGS = {
  'cuff-too-small.child': arm(21, 'An arm thicker than this is too thick for a cuff for children.'),
  'cuff-too-small.small-adult': arm(26, 'An arm thicker than this needs more than a small cuff.'),
  'cuff-too-small.adult': arm(34, 'An arm thicker than this needs more than an adult cuff.'),
  'cuff-too-small.large-adult': arm(44, 'An arm thicker than this needs more than a large cuff.'),
  'cuff-too-small.thigh': arm(52, 'An arm thicker than this is too thick for a thigh cuff.'),
  'cuff-too-large.small-adult': arm(22, 'An arm thinner than this needs less than a small cuff.'),
  'cuff-too-large.adult': arm(27, 'An arm thinner than this needs less than an adult cuff.'),
  'cuff-too-large.large-adult': arm(35, 'An arm thinner than this needs less than a large cuff.'),
  'cuff-too-large.thigh': arm(45, 'An arm thinner than this needs less than a thigh cuff.'),
  'inflation-too-low.above': {
    at: 20,
    unit: 'mm[Hg]',
    source: INFLATION,
    words: 'A cuff inflated to less than this above the systolic is noted.',
    range: [0, 60],
  },
  'drink-before-oral.cold': {
    at: 15,
    unit: 'min',
    source: DRINK_BEFORE_ORAL,
    words: 'An oral temperature less than this after a cold drink is noted.',
    range: [0, 120],
  },
  'drink-before-oral.hot': {
    at: 25,
    unit: 'min',
    source: DRINK_BEFORE_ORAL,
    words: 'An oral temperature less than this after a hot drink is noted.',
    range: [0, 120],
  },
  'breath-count-short.seconds': {
    at: 30,
    unit: 's',
    source: COUNTING_WINDOW,
    words: 'Breaths counted for less than this are noted.',
    range: [0, 60],
  },
  'breath-count-short.child-seconds': {
    at: 60,
    unit: 's',
    source: BREATHS_OF_CHILDREN,
    words: 'Breaths of a young child counted for less than this are noted.',
    range: [0, 60],
  },
  'breath-count-short.child-age': {
    at: 60,
    unit: 'mo',
    source: BREATHS_OF_CHILDREN,
    words: 'Who is younger than this counts as a young child.',
    range: [0, 216],
  },
  'irregular-count-short.seconds': {
    at: 60,
    unit: 's',
    source: IRREGULAR_PULSE,
    words: 'An irregular pulse counted for less than this is noted.',
    range: [0, 60],
  },
  'irregular-by-cuff-only.window': {
    at: 5,
    unit: 'min',
    source: PROPOSED,
    words: 'Irregular pulse, cuff and stethoscope belong together up to so far apart in time.',
    window: 'compared',
  },
  'position-changed.window': {
    at: 30,
    unit: 'min',
    source: POSITION_EFFECT,
    words: 'A pressure in another position than one up to so long before it is noted.',
    window: 'history',
  },
} satisfies SettingRows;
