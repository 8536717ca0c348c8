/**
 * The arithmetic of calculated values. The formulas as Grillo et al. print them (J Hypertens 38:2161,
 * 2020, abstract): DBP + PP × 0.333 (a third), × 0.40, × 0.412; Bos et al. (J Hypertens 25:751, 2007,
 * abstract): one-third of the pulse pressure, or 40 % of it, added to the diastolic. The expected figures
 * are worked out by hand.
 */
import fc from 'fast-check';
import {
  deriveValues,
  followingValues,
  meanPressure,
  pulsePressure,
} from '../../src/vitals/derived-values.js';
import { buildLimits } from '../../src/vitals/limits.js';
import type { Measured } from '../../src/vitals/shapes.js';
import { limitsOf } from '../../src/vitals/site-rules.js';

const THIRD = 1 / 3;

describe('the published formulas', () => {
  it.each([
    // systolic, diastolic, pulse pressure, mean by 1/3, by 0.40, by 0.412
    ['120', '80', '40', '93', '96', '96'],
    ['90', '60', '30', '70', '72', '72'],
    ['180', '110', '70', '133', '138', '139'],
    ['65', '40', '25', '48', '50', '50'],
    ['104', '45', '59', '65', '69', '69'],
    ['201', '73', '128', '116', '124', '126'],
    // Halves go up: 93.5, 96.1, 96.568.
    ['119.5', '80.5', '39.0', '94', '96', '97'],
    // 16.0 kPa and 10.4 kPa as they are kept.
    ['120.0', '78.0', '42.0', '92', '95', '95'],
  ])('%s/%s', (systolic, diastolic, pulse, third, forty, fortyOne) => {
    expect(pulsePressure(systolic, diastolic)).toBe(pulse);
    expect(meanPressure(systolic, diastolic, THIRD)).toBe(third);
    expect(meanPressure(systolic, diastolic, 0.4)).toBe(forty);
    expect(meanPressure(systolic, diastolic, 0.412)).toBe(fortyOne);
  });

  it('has no more decimals than the coarser of the two pressures', () => {
    expect(pulsePressure('120', '80.5')).toBe('40');
    expect(pulsePressure('120.4', '80')).toBe('40');
    expect(pulsePressure('128.50', '76.5')).toBe('52.0');
  });
});

/** Pressures in tenths, as whole numbers: the oracle counts in these and never in fractions. */
const tenths = fc
  .tuple(fc.integer({ min: 1, max: 2500 }), fc.integer({ min: 1, max: 1500 }))
  .map(([diastolic, difference]) => ({ diastolic, systolic: diastolic + difference }));
const text = (ofTenths: number): string => (ofTenths / 10).toFixed(1);
/** `of / by`, to the nearest whole number, halves up. */
const rounded = (of: number, by: number): number => Math.floor((2 * of + by) / (2 * by));

describe('for every pressure', () => {
  it('a third is a third', () => {
    fc.assert(
      fc.property(tenths, ({ systolic, diastolic }) => {
        const exact = 3 * diastolic + (systolic - diastolic);
        expect(meanPressure(text(systolic), text(diastolic), THIRD)).toBe(
          String(rounded(exact, 30)),
        );
      }),
    );
  });

  it('a factor in thousandths is that factor', () => {
    fc.assert(
      fc.property(tenths, fc.integer({ min: 300, max: 500 }), ({ systolic, diastolic }, share) => {
        const exact = 1000 * diastolic + share * (systolic - diastolic);
        const mean = meanPressure(text(systolic), text(diastolic), share / 1000);
        expect(mean).toBe(String(rounded(exact, 10_000)));
      }),
    );
  });

  it('the pulse pressure is the difference, and the mean lies between', () => {
    fc.assert(
      fc.property(tenths, fc.constantFrom(THIRD, 0.4, 0.412), ({ systolic, diastolic }, factor) => {
        expect(pulsePressure(text(systolic), text(diastolic))).toBe(text(systolic - diastolic));
        const mean = Number(meanPressure(text(systolic), text(diastolic), factor));
        expect(mean).toBeGreaterThanOrEqual(Math.floor(diastolic / 10));
        expect(mean).toBeLessThanOrEqual(Math.ceil(systolic / 10));
      }),
    );
  });
});

const measured = (number: number): Measured => ({ text: String(number), number });
const values = (systolic: number, diastolic: number, mean?: number) => ({
  values: {
    systolic: measured(systolic),
    diastolic: measured(diastolic),
    ...(mean === undefined ? {} : { mean: measured(mean) }),
  },
});

describe('what is calculated from a reading', () => {
  const on = limitsOf({ derivedValues: { enabled: true } });
  const both = { 'pulse-pressure': '40', 'mean-pressure': '93', factor: '1/3' };

  it('is nothing unless the site asks for it', () => {
    expect(deriveValues(values(120, 80), [], buildLimits({}))).toBeNull();
    expect(deriveValues(values(120, 80), [], on)).toEqual(both);
  });

  it('is no mean where one was sent, be it in error', () => {
    const pulse = { 'pulse-pressure': '40' };
    expect(deriveValues(values(120, 80, 95), [], on)).toEqual(pulse);
    expect(deriveValues(values(120, 80, 140), [{ partInError: 'mean' }], on)).toEqual(pulse);
  });

  it.each([
    ['a systolic alone', { values: { systolic: measured(120) } }],
    ['a diastolic alone', { values: { diastolic: measured(80) } }],
    ['another sign', { values: { value: measured(72) } }],
    ['sounds heard down to zero', values(120, 0)],
    ['a systolic that is not above the diastolic', values(80, 80)],
  ])('is nothing for %s', (_name, reading) => {
    expect(deriveValues(reading, [], on)).toBeNull();
  });

  it.each(['systolic', 'diastolic'] as const)('is nothing where the %s is in error', (part) => {
    expect(deriveValues(values(120, 80), [{ partInError: part }], on)).toBeNull();
  });

  it('follows what was published before', () => {
    const pulse = { 'pulse-pressure': '40' };
    const gone = { 'pulse-pressure': null, 'mean-pressure': null };
    expect(followingValues(null, both)).toEqual(both);
    expect(followingValues(both, pulse)).toEqual({ ...pulse, 'mean-pressure': null });
    expect(followingValues(both, null)).toEqual(gone);
    expect(followingValues(gone, null)).toEqual(gone);
    expect(followingValues(gone, both)).toEqual(both);
    expect(followingValues(null, null)).toBeNull();
  });
});
