import * as fc from 'fast-check';
import { cumulativeSums, usualSumLimits, weightedAverages } from '../../src/statistics/drift.js';

describe('NIST/SEMATECH e-Handbook 6.3.2.4, EWMA', () => {
  const values = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
    52.6, 52.4, 53.6, 52.1,
  ];
  const chart = weightedAverages(
    values,
    { middle: 50, deviation: 2.0539 },
    { weight: 0.3, deviations: 3 },
  );

  it('has the printed limits 52.5884 and 47.4115', () => {
    expect(chart.high.toFixed(4)).toBe('52.5884');
    // The handbook cuts 47.41159 short.
    expect(chart.low.toFixed(4)).toBe('47.4116');
  });

  it('has the printed averages, none of them beyond', () => {
    expect(chart.points.map(({ weighted }) => weighted.toFixed(2))).toEqual(
      (
        '50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33 ' +
        '50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94 51.99'
      ).split(' '),
    );
    expect(chart.points.every(({ signal }) => signal === null)).toBe(true);
  });
});

describe('NIST/SEMATECH e-Handbook 6.3.2.3, tabular CUSUM', () => {
  const values = [
    324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625,
    325.15, 328.325, 327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
  ];
  const points = cumulativeSums(values, 325, { allowance: 0.3175, decision: 4.1959 });

  it('has the printed sums above', () => {
    // Printed to two digits (from memory, in line with adding them up by hand).
    const printed = [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04];
    const sums = points.slice(12).map(({ high }) => high);
    expect(sums).toHaveLength(printed.length);
    for (const [at, sum] of sums.entries()) {
      expect(Math.abs(sum - (printed[at] ?? NaN))).toBeLessThan(0.0051);
    }
    expect(sums.at(-1)).toBeCloseTo(19.035, 9);
  });

  it('gives its first signal with group 14 and all after it, from group 13 on', () => {
    expect(points.flatMap(({ signal }, at) => (signal === null ? [] : [at + 1]))).toEqual([
      14, 15, 16, 17, 18, 19, 20,
    ]);
    expect(points[13]).toMatchObject({ signal: 'high', since: 12 });
  });
});

describe('any values', () => {
  const lists = fc.array(fc.double({ min: -50, max: 50, noNaN: true }), { maxLength: 60 });

  it('upside down give the signals of the other side', () => {
    fc.assert(
      fc.property(lists, (values) => {
        const limits = usualSumLimits({ middle: 0, deviation: 6 });
        const up = cumulativeSums(values, 0, limits);
        const down = cumulativeSums(
          values.map((value) => -value),
          0,
          limits,
        );
        expect(down.map(({ high, low }) => [low, high])).toEqual(
          up.map(({ high, low }) => [high, low]),
        );
      }),
    );
  });

  it('that stay in the middle pile nothing up', () => {
    const points = cumulativeSums([3, 3, 3], 3, usualSumLimits({ middle: 3, deviation: 1 }));
    expect(
      points.every(({ high, low, signal }) => high === 0 && low === 0 && signal === null),
    ).toBe(true);
  });

  it('that jump by four deviations are beyond the weighted limits within three values', () => {
    const usual = { middle: 0, deviation: 1 };
    expect(weightedAverages([0, 0, 4, 4, 4], usual).points.map(({ signal }) => signal)).toEqual([
      null,
      null,
      null,
      'high',
      'high',
    ]);
    expect(weightedAverages([-4, -4], usual).points.at(-1)?.signal).toBe('low');
  });
});
