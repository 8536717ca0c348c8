import * as fc from 'fast-check';
import { jStat } from 'jstat';
import {
  chiSquareQuantile,
  chiSquareTail,
  normalShare,
  studentQuantile,
  studentTwoTails,
} from '../../src/statistics/distributions.js';
import { quantile, standardDeviation } from '../../src/statistics/summary.js';

describe('published tables', () => {
  // NIST/SEMATECH e-Handbook 1.3.6.7.2, upper critical values of Student's t, column 0.975.
  it.each([
    [1, 12.706],
    [2, 4.303],
    [3, 3.182],
    [10, 2.228],
    [16, 2.12],
    [30, 2.042],
    [84, 1.989],
    [100, 1.984],
  ])('Student’s t of %d degrees of freedom: %d', (df, t) => {
    expect(studentQuantile(0.975, df)).toBeCloseTo(t, 3);
  });

  // NIST/SEMATECH e-Handbook 1.3.6.7.4, critical values of chi-square: upper 0.05, 0.001, lower 0.025.
  it.each([
    [0.95, 1, 3.841],
    [0.95, 4, 9.488],
    [0.95, 9, 16.919],
    [0.999, 4, 18.467],
    [0.999, 9, 27.877],
    [0.025, 10, 3.247],
    [0.025, 3, 0.216],
    [0.975, 16, 28.845],
  ])('chi-square below which %d lies, %d degrees of freedom: %d', (share, df, value) => {
    expect(chiSquareQuantile(share, df)).toBeCloseTo(value, 3);
  });

  // NIST/SEMATECH e-Handbook 1.3.6.7.1, area under the normal curve (0.5 added).
  it.each([
    [0, 0.5],
    [1, 0.84134],
    [1.96, 0.975],
    [-2.5, 0.00621],
  ])('normal distribution below %d: %d', (z, share) => {
    expect(normalShare(z)).toBeCloseTo(share, 5);
  });
});

describe('a general library says the same', () => {
  const dfs = fc.integer({ min: 1, max: 400 });
  const shares = fc.double({ min: 0.501, max: 0.999, noNaN: true });

  it('of Student’s t', () => {
    fc.assert(
      fc.property(shares, dfs, (share, df) => {
        const other = jStat.studentt.inv(share, df);
        expect(studentQuantile(share, df) / other).toBeCloseTo(1, 6);
      }),
    );
  });

  it('of chi-square', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 600, noNaN: true }), dfs, (x, df) => {
        expect(chiSquareTail(x, df)).toBeCloseTo(1 - jStat.chisquare.cdf(x, df), 8);
      }),
    );
  });

  it('of the normal distribution', () => {
    fc.assert(
      fc.property(fc.double({ min: -6, max: 6, noNaN: true }), (z) => {
        expect(normalShare(z)).toBeCloseTo(jStat.normal.cdf(z, 0, 1), 9);
      }),
    );
  });

  it('of spread and quantiles', () => {
    const values = fc.array(fc.integer({ min: -300, max: 300 }), { minLength: 2, maxLength: 50 });
    fc.assert(
      fc.property(values, fc.integer({ min: 0, max: 100 }), (numbers, percent) => {
        const share = percent / 100;
        expect(standardDeviation(numbers)).toBeCloseTo(jStat.stdev(numbers, true), 9);
        const [other] = jStat.quantiles(numbers, [share], 1, 1);
        expect(quantile(numbers, share)).toBeCloseTo(other ?? NaN, 9);
      }),
    );
  });
});

it('quantiles and tails undo each other', () => {
  fc.assert(
    fc.property(
      fc.double({ min: 0.5, max: 0.9999, noNaN: true }),
      fc.integer({ min: 1, max: 1000 }),
      (share, df) => {
        expect(studentTwoTails(studentQuantile(share, df), df)).toBeCloseTo(2 * (1 - share), 9);
        expect(chiSquareTail(chiSquareQuantile(share, df), df)).toBeCloseTo(1 - share, 9);
      },
    ),
  );
});

it('stays exact far out in the tail', () => {
  // exp(-x/2) for two degrees of freedom, by definition.
  expect(chiSquareTail(400, 2) / Math.exp(-200)).toBeCloseTo(1, 9);
});
