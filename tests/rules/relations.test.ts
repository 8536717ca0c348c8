import {
  bornOn,
  contextOf,
  cuffPressure,
  linePressure,
  manualPressure,
  oximeterPulse,
  palpatedPulse,
  respiratoryRate,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { findingsOf, heard, judge, speaks, verdictOf } from './judge.js';

const device = { device: { system: 'urn:example:device', value: 'BP-2' } };

/** By definition of the two pressures. */
describe('systolic-not-above-diastolic', () => {
  it.each([
    [120, 119, false],
    [120, 120, true],
    [84, 132, true],
  ])('%i over %i', (systolic, diastolic, spoken) => {
    const pressure = manualPressure([systolic, diastolic]);
    expect(speaks('systolic-not-above-diastolic', pressure)).toBe(spoken);
    if (spoken) expect(verdictOf(pressure)).toBe('rejected');
  });

  it('is all that is said: pressures that contradict each other tell nothing of their mean', () => {
    expect(heard(contextOf([cuffPressure([84, 132, 100], device)]))).toEqual([
      'systolic-not-above-diastolic rejected 0',
    ]);
  });

  it('says nothing where one of the two is missing', () => {
    expect(heard(contextOf([manualPressure([118, null])]))).toEqual([]);
    expect(heard(contextOf([manualPressure([null, 74])]))).toEqual([]);
  });
});

/** By definition the mean lies between diastolic and systolic. */
describe('mean-outside-pressures', () => {
  it.each([
    [93, false],
    [81, false],
    [80, true],
    [119, false],
    [120, true],
    [0, true],
    [260, true],
  ])('a mean of %i beside 120/80', (mean, spoken) => {
    expect(speaks('mean-outside-pressures', cuffPressure([120, 80, mean], device))).toBe(spoken);
  });

  it('costs the mean alone, and the critical pressures go on', () => {
    const judged = judge(contextOf([cuffPressure([78, 44, 130], device)]));
    expect(judged.readings[0]).toMatchObject({ verdict: 'noted', status: 'final', critical: true });
    expect(judged.findings).toContainEqual(
      expect.objectContaining({ rule: 'mean-outside-pressures', partInError: 'mean' }),
    );
  });

  it('compares with the one pressure that is there', () => {
    expect(speaks('mean-outside-pressures', linePressure([90, null, 95]))).toBe(true);
    expect(speaks('mean-outside-pressures', linePressure([null, 95, 90]))).toBe(true);
    expect(speaks('mean-outside-pressures', linePressure([96, null, 95]))).toBe(false);
  });
});

/** Grillo 2020: 23 to 58 % in 1526 people; noted outside 20 to 60 % (proposed). */
describe('mean-fraction-unusual', () => {
  it.each([
    [90, false],
    [89, true],
    [110, false],
    [111, true],
  ])('a mean of %i beside 130/80', (mean, spoken) => {
    expect(speaks('mean-fraction-unusual', cuffPressure([130, 80, mean], device))).toBe(spoken);
  });

  it('takes the form factor of one third and of 0.40 for usual (Bos 2007: 39.5 %)', () => {
    expect(heard(contextOf([cuffPressure([120, 80, 93], device)]))).toEqual([]);
    expect(heard(contextOf([cuffPressure([120, 80, 96], device)]))).toEqual([]);
  });

  it('is silent where the mean is left out anyway', () => {
    expect(speaks('mean-fraction-unusual', cuffPressure([130, 80, 131], device))).toBe(false);
  });
});

/** PMC7015776, Table 1. */
describe('pulse-pressure-narrow', () => {
  it.each([
    [99, 90, 89],
    [100, 86, 85],
    [150, 136, 135],
    [151, 122, 121],
    [200, 171, 170],
    [201, 152, 151],
  ])('systolic %i: %i is too near, %i is not', (systolic, near, usual) => {
    expect(speaks('pulse-pressure-narrow', manualPressure([systolic, near]))).toBe(true);
    expect(verdictOf(manualPressure([systolic, near]))).toBe('held');
    expect(speaks('pulse-pressure-narrow', manualPressure([systolic, usual]))).toBe(false);
  });

  it('goes out at once where the systolic is critical, and else waits', () => {
    const status = (systolic: number, diastolic: number) =>
      judge(contextOf([manualPressure([systolic, diastolic])])).readings[0]?.status;
    expect(status(88, 80)).toBe('preliminary');
    expect(status(98, 90)).toBeNull();
  });
});

/** Proposed, no source. */
describe('pulse-pressure-wide', () => {
  it('notes 150 mmHg and more', () => {
    expect(speaks('pulse-pressure-wide', manualPressure([210, 61]))).toBe(false);
    expect(speaks('pulse-pressure-wide', manualPressure([210, 60]))).toBe(true);
    expect(verdictOf(manualPressure([210, 60]))).toBe('noted');
  });

  it('is silent where the diastolic is nought: other rules speak of that', () => {
    expect(speaks('pulse-pressure-wide', manualPressure([160, 0]))).toBe(false);
    expect(heard(contextOf([cuffPressure([160, 0], device)]))).toEqual(['no-signal rejected 0']);
  });

  it('is silent where a number is impossible anyway', () => {
    expect(heard(contextOf([manualPressure([1208, 70])]))).toEqual(['value-impossible rejected 0']);
  });
});

/** Rates, saturation and cuff pressures are read in whole numbers (common practice, no source). */
describe('value-not-whole', () => {
  it.each([
    ['a palpated pulse', palpatedPulse(72.5)],
    ['counted breathing', respiratoryRate(16.5)],
    ['a pressure by stethoscope', manualPressure([121.5, 80])],
    ['a saturation that a person typed', saturation(96.5)],
    ['a cuff pressure that a person typed', cuffPressure([121, 80.5])],
  ])('rejects %s with decimals', (_name, reading) => {
    expect(heard(contextOf([reading]))).toEqual(['value-not-whole rejected 0']);
  });

  it.each([
    ['a device that is named', oximeterPulse(72.5, device), {}],
    ['a source that nobody attends', oximeterPulse(72.5), { source: UNATTENDED }],
    ['an arterial line', linePressure([121.4, 80.2, 94.9]), {}],
    ['a pressure in kilopascal', manualPressure([120.8, 80.3], { sentUnit: 'kPa' }), {}],
    ['a temperature', temperature('36.65'), {}],
  ])('keeps the decimals of %s', (_name, reading, changes) => {
    expect(verdictOf(reading, changes)).toBe('accepted');
  });

  it('takes trailing zeros for whole', () => {
    const written = palpatedPulse(72, { values: { value: { text: '72.0', number: 72 } } });
    expect(heard(contextOf([written]))).toEqual([]);
  });

  it('rejects the decimals of a hand count also from an unattended source', () => {
    expect(verdictOf(palpatedPulse(72.5), { source: UNATTENDED })).toBe('rejected');
  });
});

describe('relations and age', () => {
  it('a normal newborn pressure of 750 g passes (Versmold 1981: 34/14 to 54/34)', () => {
    const patient = bornOn('2026-03-10');
    for (const pressures of [
      [44, 24, 33],
      [34, 14, 24],
      [54, 34, 42],
    ] as const) {
      const context = contextOf([cuffPressure(pressures, device)], { patient });
      expect(findingsOf('value-critical', context)).toHaveLength(1);
      expect(judge(context)).toMatchObject({ verdict: 'noted' });
    }
  });
});
