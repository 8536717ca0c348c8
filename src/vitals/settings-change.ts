/**
 * Change against the patient's own earlier readings: how much is worth a note, and within what time.
 * No limit for change between ward readings is published: all figures are proposed.
 */
import { IDSA_FEVER, OWN_CHANGE, POUND_FACTOR } from './limits-sources-measuring.js';
import type { SettingRow, SettingRows } from './setting.js';

type Unit = SettingRow['unit'];

const change = (
  at: number,
  unit: Unit,
  words: string,
  range: readonly [number, number],
): SettingRow => ({ at, unit, source: OWN_CHANGE, words, range });

const lookback = (at: number, unit: Unit, words: string): SettingRow => ({
  at,
  unit,
  source: OWN_CHANGE,
  words,
  window: 'history',
});

/** The rules that compare with the spread of the patient's own values where there are enough of them. */
const BY_OWN_SPREAD = [
  'pulse-rate-changed',
  'respiratory-rate-changed',
  'oxygen-saturation-fallen',
  'body-temperature-changed',
];

export const CHANGE_SETTINGS = {
  'blood-pressure-changed.systolic': change(
    40,
    'mm[Hg]',
    'A systolic further than this from the one before is noted.',
    [10, 150],
  ),
  'blood-pressure-changed.diastolic': change(
    25,
    'mm[Hg]',
    'A diastolic further than this from the one before is noted.',
    [10, 100],
  ),
  'blood-pressure-changed.window': {
    ...lookback(24, 'h', 'A reading is compared with the one before, up to so long before it.'),
    readBy: ['pulse-rate-changed', 'respiratory-rate-changed', 'oxygen-saturation-fallen'],
  },
  'blood-pressure-changed.own-values': {
    ...change(8, '1', 'From so many earlier values on, their spread is the limit.', [5, 20]),
    readBy: [...BY_OWN_SPREAD, 'fever-in-old-age'],
  },
  'blood-pressure-changed.own-spread': {
    ...change(
      4,
      '1',
      'With enough earlier values, one further from their median than so many robust standard deviations (1.4826 times the median distance) is noted.',
      [2, 10],
    ),
    readBy: BY_OWN_SPREAD,
  },
  'blood-pressure-changed.own-least': {
    ...change(
      0.5,
      '1',
      'However alike the earlier values, a change up to this share of the fixed limit is not noted.',
      [0, 1],
    ),
    readBy: BY_OWN_SPREAD,
  },
  'blood-pressure-changed.own-window': {
    ...lookback(8, 'd', 'Earlier values count towards the spread up to so long before.'),
    readBy: [...BY_OWN_SPREAD, 'fever-in-old-age'],
  },
  'pulse-rate-changed.difference': change(
    40,
    '/min',
    'A pulse further than this from the one before is noted.',
    [10, 150],
  ),
  'respiratory-rate-changed.difference': change(
    10,
    '/min',
    'A respiratory rate further than this from the one before is noted.',
    [4, 60],
  ),
  'oxygen-saturation-fallen.fall': change(
    5,
    '%',
    'A saturation lower than the one before by this or more is noted.',
    [2, 30],
  ),
  'body-temperature-changed.soon': change(
    1.5,
    'Cel',
    'A temperature further than this from one shortly before is noted.',
    [0.5, 5],
  ),
  'body-temperature-changed.soon-window': lookback(
    2,
    'h',
    'What counts as shortly before, for the smaller change of temperature.',
  ),
  'body-temperature-changed.difference': {
    ...change(
      2.5,
      'Cel',
      'A temperature further than this from the one before is noted.',
      [0.5, 8],
    ),
    notBelow: ['body-temperature-changed.soon'],
  },
  'body-temperature-changed.window': {
    ...lookback(24, 'h', 'A temperature is compared with the one before, up to so long before it.'),
    notBelow: ['body-temperature-changed.soon-window'],
  },
  'body-weight-changed.share': change(
    0.1,
    '1',
    'A weight that differs from the one before by more than this share of it is noted.',
    [0.02, 1],
  ),
  'body-weight-changed.window': lookback(7, 'd', 'Weights are compared up to so long apart.'),
  'pound-suspected.more-from': {
    ...change(
      2.1,
      '1',
      'Weight over the one before: from this ratio on it may be pounds.',
      [1.5, 3],
    ),
    source: POUND_FACTOR,
  },
  'pound-suspected.more-to': {
    ...change(2.3, '1', 'Weight over the one before: up to this ratio it may be pounds.', [1.5, 3]),
    source: POUND_FACTOR,
    notBelow: ['pound-suspected.more-from'],
  },
  'pound-suspected.less-from': {
    ...change(
      0.43,
      '1',
      'Weight over the one before: from this ratio on the one before may have been pounds.',
      [0.3, 0.6],
    ),
    source: POUND_FACTOR,
  },
  'pound-suspected.less-to': {
    ...change(
      0.48,
      '1',
      'Weight over the one before: up to this ratio the one before may have been pounds.',
      [0.3, 0.6],
    ),
    source: POUND_FACTOR,
    notBelow: ['pound-suspected.less-from'],
  },
  'pound-suspected.window': lookback(8, 'd', 'Weights are held against each other so long.'),
  'fever-in-old-age.from-age': {
    ...change(
      780,
      'mo',
      'The fever criteria of long-term care are asked from this age on.',
      [0, 1500],
    ),
    source: IDSA_FEVER,
  },
  'fever-in-old-age.oral': {
    ...change(37.8, 'Cel', 'A single oral temperature above this is noted.', [36, 40]),
    source: IDSA_FEVER,
  },
  'fever-in-old-age.oral-repeated': {
    ...change(37.2, 'Cel', 'A second oral temperature in a row above this is noted.', [36, 40]),
    source: IDSA_FEVER,
  },
  'fever-in-old-age.rectal': {
    ...change(37.5, 'Cel', 'A rectal temperature above this is noted.', [36, 40]),
    source: IDSA_FEVER,
  },
  'fever-in-old-age.over-baseline': {
    ...change(
      1.1,
      'Cel',
      'A temperature above the median of the earlier ones by more than this is noted.',
      [0.5, 3],
    ),
    source: IDSA_FEVER,
  },
} satisfies SettingRows;
