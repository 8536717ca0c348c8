/** Limits between the parts of one reading, and the ranges in which another unit is suspected. */
import { MEAN_FRACTION, PRESSURE_ARTEFACTS, PROPOSED, UNIT_TRAP } from './limits-sources.js';
import type { SettingRow, SettingRows } from './setting.js';

/** A systolic at which the next step of the table below begins. */
const step = (at: number, words: string, above: readonly string[] = []): SettingRow => ({
  at,
  unit: 'mm[Hg]',
  source: PRESSURE_ARTEFACTS,
  words,
  range: [20, 300],
  above,
});

/** Written for arterial lines under anaesthesia: on a ward a reason to hold, not to reject. */
const narrow = (at: number, words: string, notBelow: readonly string[] = []): SettingRow => ({
  at,
  unit: 'mm[Hg]',
  source: PRESSURE_ARTEFACTS,
  words,
  range: [0, 100],
  notBelow,
});

export const RELATION_SETTINGS = {
  'pulse-pressure-narrow.first-step': step(
    100,
    'A systolic below this is of the first step of narrow pulse pressures.',
  ),
  'pulse-pressure-narrow.second-step': step(
    150,
    'A systolic up to this, itself included, is of the second step.',
    ['pulse-pressure-narrow.first-step'],
  ),
  'pulse-pressure-narrow.third-step': step(
    200,
    'A systolic up to this, itself included, is of the third step; above it, of the fourth.',
    ['pulse-pressure-narrow.second-step'],
  ),
  'pulse-pressure-narrow.first': narrow(
    10,
    'Systolic less diastolic below this is held in the first step.',
  ),
  'pulse-pressure-narrow.second': narrow(
    15,
    'Systolic less diastolic below this is held in the second step.',
    ['pulse-pressure-narrow.first'],
  ),
  'pulse-pressure-narrow.third': narrow(
    30,
    'Systolic less diastolic below this is held in the third step.',
    ['pulse-pressure-narrow.second'],
  ),
  'pulse-pressure-narrow.fourth': narrow(
    50,
    'Systolic less diastolic below this is held in the fourth step.',
    ['pulse-pressure-narrow.third'],
  ),
  'pulse-pressure-wide.from': {
    at: 150,
    unit: 'mm[Hg]',
    source: PROPOSED,
    words: 'From this on, systolic less diastolic is noted as unusually wide.',
    range: [20, 300],
    above: ['pulse-pressure-narrow.fourth'],
  },
  // The mean lay 23 to 58 % of the pulse pressure above the diastolic in 1526 people.
  'mean-fraction-unusual.low': {
    at: 0.2,
    unit: '1',
    source: MEAN_FRACTION,
    words: 'A mean that lies a smaller share of the pulse pressure above the diastolic is noted.',
    range: [0, 1],
  },
  'mean-fraction-unusual.high': {
    at: 0.6,
    unit: '1',
    source: MEAN_FRACTION,
    words: 'A mean that lies a greater share of the pulse pressure above the diastolic is noted.',
    range: [0, 1],
    above: ['mean-fraction-unusual.low'],
  },
  'fahrenheit-suspected.from': {
    at: 50,
    unit: 'Cel',
    source: UNIT_TRAP,
    words: 'A number in a Celsius field from this on, itself included, reads as Fahrenheit.',
  },
  'fahrenheit-suspected.to': {
    at: 120,
    unit: 'Cel',
    source: UNIT_TRAP,
    words: 'A number in a Celsius field up to this, itself included, reads as Fahrenheit.',
    range: [50, 150],
    above: ['fahrenheit-suspected.from'],
  },
  'celsius-suspected.from': {
    at: 20,
    unit: '[degF]',
    source: UNIT_TRAP,
    words: 'A number in a Fahrenheit field from this on, itself included, reads as Celsius.',
  },
  // 50 °F is the reject bound of 10 °C.
  'celsius-suspected.below': {
    at: 50,
    unit: '[degF]',
    source: UNIT_TRAP,
    words: 'A number in a Fahrenheit field below this reads as Celsius.',
    above: ['celsius-suspected.from'],
  },
  'fraction-suspected.up-to': {
    at: 1,
    unit: '%',
    source: PROPOSED,
    words: 'A share of oxygen above zero and up to this, itself included, reads as a fraction.',
    range: [0, 1],
  },
  // Both together. Under one year the normal pressure may lie as low (Versmold 1981: 44/24 mmHg at 750 g).
  'kilopascal-suspected.systolic-from': {
    at: 5,
    unit: 'mm[Hg]',
    source: PROPOSED,
    words: 'A systolic in mmHg from this on, itself included, may be kilopascal.',
    range: [0, 40],
  },
  'kilopascal-suspected.systolic-to': {
    at: 35,
    unit: 'mm[Hg]',
    source: PROPOSED,
    words: 'A systolic in mmHg up to this, itself included, may be kilopascal.',
    range: [0, 40],
    above: ['kilopascal-suspected.systolic-from'],
  },
  'kilopascal-suspected.diastolic-from': {
    at: 3,
    unit: 'mm[Hg]',
    source: PROPOSED,
    words: 'A diastolic in mmHg from this on, itself included, may be kilopascal.',
    range: [0, 25],
  },
  'kilopascal-suspected.diastolic-to': {
    at: 20,
    unit: 'mm[Hg]',
    source: PROPOSED,
    words: 'A diastolic in mmHg up to this, itself included, may be kilopascal.',
    range: [0, 25],
    above: ['kilopascal-suspected.diastolic-from'],
  },
  'kilopascal-suspected.from-age': {
    at: 12,
    unit: 'mo',
    source: PROPOSED,
    words: 'Kilopascal is suspected from this age on only.',
    range: [12, 1500],
  },
} satisfies SettingRows;
