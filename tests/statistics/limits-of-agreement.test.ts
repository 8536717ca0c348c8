import * as fc from 'fast-check';
import {
  AS_OF_1986,
  limitsOfAgreement,
  type Agreement,
} from '../../src/statistics/limits-of-agreement.js';
import { proportionalBias } from '../../src/statistics/proportional-bias.js';
import { PRESSURES } from './published/blood-pressure-1999.js';
import { PEAK_FLOWS } from './published/peak-flow-1986.js';

const printed = (value: number | undefined, digits: number): string =>
  (value ?? NaN).toFixed(digits);
const intervals = (agreement: Agreement | null, digits: number): string[] =>
  agreement === null
    ? []
    : [agreement.biasInterval, agreement.lowerInterval, agreement.upperInterval].map(
        ({ low, high }) => `${low.toFixed(digits)} to ${high.toFixed(digits)}`,
      );

const firstReadings = PRESSURES.map((row) => (row[0] ?? NaN) - (row[6] ?? NaN));

describe('Bland and Altman 1986, peak flow by two meters', () => {
  const agreement = limitsOfAgreement(
    PEAK_FLOWS.map(([wright, mini]) => wright - mini),
    AS_OF_1986,
  );

  it('has the printed bias -2.1 and standard deviation 38.8', () => {
    expect(printed(agreement?.bias, 1)).toBe('-2.1');
    expect(printed(agreement?.standardDeviation, 1)).toBe('38.8');
  });

  it('has the limits -79.7 and 75.5, which the paper worked out from -2.1 and 38.8', () => {
    expect(printed(agreement?.limits.low, 2)).toBe('-79.65');
    expect(printed(agreement?.limits.high, 2)).toBe('75.41');
    expect(printed(-2.1 - 2 * 38.8, 1)).toBe('-79.7');
  });

  it('has the printed interval of the bias, -22.0 to 17.8, and those of the limits', () => {
    // Printed, from rounded numbers: -114.3 to -45.1 and 40.9 to 110.1.
    expect(intervals(agreement, 2)).toEqual([
      '-22.05 to 17.81',
      '-114.17 to -45.13',
      '40.89 to 109.93',
    ]);
  });
});

describe('Bland and Altman 1999, first systolic readings by observer and machine', () => {
  const agreement = limitsOfAgreement(firstReadings);

  it('has the printed bias -16.29, standard deviation 19.61 and limits -54.7 to 22.1', () => {
    expect(printed(agreement?.bias, 2)).toBe('-16.29');
    expect(printed(agreement?.standardDeviation, 2)).toBe('19.61');
    expect(printed(agreement?.limits.low, 1)).toBe('-54.7');
    expect(printed(agreement?.limits.high, 1)).toBe('22.1');
  });

  it('has the printed interval of the bias, -20.5 to -12.1, and those of the limits', () => {
    // Printed, from -54.7, 22.1 and a reach of 7.2: -61.9 to -47.5 and 14.9 to 29.3.
    expect(intervals(agreement, 1)).toEqual(['-20.5 to -12.1', '-62.0 to -47.5', '14.9 to 29.4']);
    const reach = ((agreement?.lowerInterval.high ?? 0) - (agreement?.lowerInterval.low ?? 0)) / 2;
    expect(printed(reach, 1)).toBe('7.2');
  });

  it('has the printed limits -43.6 to 15.0 without the subjects 78 and 80', () => {
    const without = limitsOfAgreement(firstReadings.filter((_, at) => at !== 77 && at !== 79));
    expect(printed(without?.limits.low, 1)).toBe('-43.6');
    expect(printed(without?.limits.high, 1)).toBe('15.0');
  });
});

describe('any differences', () => {
  const lists = fc.array(fc.integer({ min: -80, max: 80 }), { minLength: 2, maxLength: 60 });

  it('move as they do, and turn round with their sign', () => {
    fc.assert(
      fc.property(lists, fc.integer({ min: -50, max: 50 }), (differences, shift) => {
        const plain = limitsOfAgreement(differences);
        const moved = limitsOfAgreement(differences.map((difference) => difference + shift));
        const turned = limitsOfAgreement(differences.map((difference) => -difference));
        expect(moved?.bias).toBeCloseTo((plain?.bias ?? NaN) + shift, 9);
        expect(moved?.standardDeviation).toBeCloseTo(plain?.standardDeviation ?? NaN, 9);
        expect(turned?.limits.low).toBeCloseTo(-(plain?.limits.high ?? NaN), 9);
        expect(turned?.lowerInterval.low).toBeCloseTo(-(plain?.upperInterval.high ?? NaN), 9);
      }),
    );
  });

  it('give no limits where there are fewer than two', () => {
    expect(limitsOfAgreement([])).toBeNull();
    expect(limitsOfAgreement([4])).toBeNull();
  });
});

describe('difference against mean', () => {
  it('finds the slope of a line, whatever its size', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -20, max: 20 }),
        fc.double({ min: -2, max: 2, noNaN: true }),
        (intercept, slope) => {
          const pairs = [80, 95, 120, 160].map((mean, at) => ({
            mean,
            difference: intercept + slope * mean + (at % 2 === 0 ? 1 : -1),
          }));
          const found = proportionalBias(pairs);
          const even = proportionalBias(
            pairs.map(({ mean }, at) => ({ mean, difference: at % 2 })),
          );
          expect(found?.slope).toBeCloseTo(slope - 2 * (even?.slope ?? NaN), 9);
        },
      ),
    );
  });

  it('agrees with the regression of Anscombe’s first data set', () => {
    // Anscombe, Graphs in statistical analysis, The American Statistician 1973;27:17-21: y = 3.00 + 0.500 x,
    // standard error of the slope 0.118; t 4.24, nine degrees of freedom, p 0.00217.
    const xs = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5];
    const ys = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
    const found = proportionalBias(xs.map((mean, at) => ({ mean, difference: ys[at] ?? NaN })));
    expect(printed(found?.intercept, 2)).toBe('3.00');
    expect(printed(found?.slope, 3)).toBe('0.500');
    expect(printed(((found?.slopeInterval.high ?? NaN) - 0.5001) / 2.262, 3)).toBe('0.118');
    expect(printed(found?.p, 5)).toBe('0.00217');
  });

  it('says nothing of fewer than three pairs, or of one size only', () => {
    expect(proportionalBias([{ mean: 1, difference: 2 }])).toBeNull();
    expect(proportionalBias([1, 2, 3].map((difference) => ({ mean: 90, difference })))).toBeNull();
  });
});
