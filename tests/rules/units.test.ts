import type { Reading } from '../../src/vitals/shapes.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  manualPressure,
  reading,
  saturation,
  temperature,
} from './build-context.js';
import { findingsOf, heard, judge } from './judge.js';

/** Genes 2013: the commonest defect of free-text vital signs was Fahrenheit logged as Celsius. */
describe('fahrenheit-suspected', () => {
  it.each([
    [49.9, ['value-impossible rejected 0']],
    [50, ['fahrenheit-suspected rejected 0']],
    [97.7, ['fahrenheit-suspected rejected 0']],
    [120, ['fahrenheit-suspected rejected 0']],
    [120.1, ['value-impossible rejected 0']],
  ])('%f in a Celsius field', (value, expected) => {
    expect(heard(contextOf([temperature(value)]))).toEqual(expected);
  });
});

describe('celsius-suspected', () => {
  /** °F as typed, °C as kept: (F - 32) × 5/9 to hundredths. */
  const inFahrenheit = (typed: number): Reading =>
    temperature((Math.round(((typed - 32) * 500) / 9) / 100).toFixed(2), {
      sentUnit: '[degF]',
      entered: { value: String(typed), unit: '[degF]' },
    });

  it.each([
    [19.9, ['value-impossible rejected 0']],
    [20, ['celsius-suspected rejected 0']],
    [37.2, ['celsius-suspected rejected 0']],
    [49.9, ['celsius-suspected rejected 0']],
    [97.9, []],
  ])('%f in a Fahrenheit field', (typed, expected) => {
    expect(heard(contextOf([inFahrenheit(typed)]))).toEqual(expected);
  });

  it('leaves 50 °F, the reject bound of 10 °C itself, to the rule of doubt', () => {
    expect(heard(contextOf([inFahrenheit(50)]))).toEqual([
      'value-doubtful held 0',
      'value-critical noted 0',
    ]);
  });
});

/** Common practice, no source. */
describe('fraction-suspected', () => {
  it.each([
    [saturation(0.01), true],
    [saturation(0.97), true],
    [saturation(1), true],
    [saturation(2), false],
    [reading('inspired-oxygen', { value: 0.28 }), true],
    [reading('inspired-oxygen', { value: 28 }), false],
  ])('case %#', (share, suspected) => {
    const findings = findingsOf('fraction-suspected', contextOf([share]));
    expect(findings).toHaveLength(suspected ? 1 : 0);
    if (suspected) expect(heard(contextOf([share]))).toEqual(['fraction-suspected rejected 0']);
  });
});

/** Proposed; not for infants: a normal pressure at 750 g is 44/24 mmHg (Versmold 1981). */
describe('kilopascal-suspected', () => {
  const isHeld = (pressure: Reading, birthDate: string | null = '1961-05-23') =>
    findingsOf('kilopascal-suspected', contextOf([pressure], { patient: bornOn(birthDate) }))
      .length > 0;

  it.each([
    [5, 3, true],
    [4.9, 3, false],
    [5, 2.9, false],
    [35, 20, true],
    [35.1, 20, false],
    [35, 20.1, false],
  ])('%f/%f', (systolic, diastolic, held) => {
    expect(isHeld(manualPressure([systolic, diastolic]))).toBe(held);
  });

  it('holds the usual pressure of an adult, 16.3/10.7 kPa, for its unit alone', () => {
    const judged = judge(contextOf([manualPressure([16.3, 10.7])]));
    expect(judged.findings.map(({ rule }) => rule)).toEqual([
      'kilopascal-suspected',
      'value-critical',
    ]);
    expect(judged.readings[0]).toMatchObject({ verdict: 'held', hold: 'unit', status: null });
  });

  it('holds from the first birthday on, and not where the age is unknown', () => {
    const low = cuffPressure([30, 18]);
    expect(isHeld(low, '2025-03-14')).toBe(true);
    expect(isHeld(low, '2025-03-15')).toBe(false);
    expect(isHeld(low, null)).toBe(false);
  });

  it('does not doubt a single pressure, nor one that was sent in kilopascal', () => {
    expect(isHeld(cuffPressure([30, null]))).toBe(false);
    expect(isHeld(cuffPressure([30, 18], { sentUnit: 'kPa' }))).toBe(false);
  });

  it('does not hold the reading by another method against it', () => {
    const judged = judge(contextOf([manualPressure([16, 11]), cuffPressure([124, 82])]));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['held', 'accepted']);
  });
});
