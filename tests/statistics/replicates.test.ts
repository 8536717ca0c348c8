import * as fc from 'fast-check';
import { limitsOfAgreement } from '../../src/statistics/limits-of-agreement.js';
import { limitIntervals, linkedAgreement } from '../../src/statistics/linked-pairs.js';
import { replicatedAgreement } from '../../src/statistics/replicates.js';
import { mean, sum, sumOfSquares, variance } from '../../src/statistics/summary.js';
import { PRESSURES } from './published/blood-pressure-1999.js';
import { CARDIAC_OUTPUTS } from './published/cardiac-output-1999.js';
import { SATURATIONS } from './published/oximetry.js';

const printed = (value: number | undefined, digits: number): string =>
  (value ?? NaN).toFixed(digits);

function byPatient<Row extends readonly [number, ...number[]]>(rows: readonly Row[]): Row[][] {
  const groups = new Map<number, Row[]>();
  for (const row of rows) groups.set(row[0], [...(groups.get(row[0]) ?? []), row]);
  return [...groups.values()];
}

describe('three systolic readings by observer and machine (Bland and Altman 1999, section 5.1)', () => {
  const agreement = replicatedAgreement(
    PRESSURES.map((row) => ({ first: row.slice(0, 3), second: row.slice(6, 9) })),
  );

  it('has the printed variances within people, 37.408 and 83.141', () => {
    expect(printed(agreement?.firstWithin, 3)).toBe('37.408');
    expect(printed(agreement?.secondWithin, 3)).toBe('83.141');
  });

  it('has the printed bias -15.62, deviation 20.95 and limits -56.68 to 25.44', () => {
    expect(printed(agreement?.bias, 2)).toBe('-15.62');
    expect(printed(agreement?.standardDeviation, 2)).toBe('20.95');
    expect(printed(agreement?.limits.low, 2)).toBe('-56.68');
    expect(printed(agreement?.limits.high, 2)).toBe('25.44');
  });

  it('has the printed intervals of the limits, -63.5 to -49.9 and 18.7 to 32.2', () => {
    expect(printed(agreement?.lowerInterval.low, 1)).toBe('-63.5');
    expect(printed(agreement?.lowerInterval.high, 1)).toBe('-49.9');
    expect(printed(agreement?.upperInterval.low, 1)).toBe('18.7');
    expect(printed(agreement?.upperInterval.high, 1)).toBe('32.2');
  });
});

describe('cardiac output, unequal numbers (Bland and Altman 1999, table 4)', () => {
  const patients = byPatient(CARDIAC_OUTPUTS);

  it('without links: 0.7092, 1.0519, -1.352 to 2.771 (section 5.2)', () => {
    const agreement = replicatedAgreement(
      patients.map((rows) => ({
        first: rows.map(([, rv]) => rv),
        second: rows.map(([, , ic]) => ic),
      })),
    );
    expect(printed(agreement?.bias, 4)).toBe('0.7092');
    expect(printed(agreement?.standardDeviation, 4)).toBe('1.0519');
    expect(printed(agreement?.limits.low, 3)).toBe('-1.352');
    expect(printed(agreement?.limits.high, 3)).toBe('2.771');
  });

  it('in pairs: 0.6022, 0.9906, -1.339 to 2.544 (section 5.3)', () => {
    const agreement = linkedAgreement(patients.map((rows) => rows.map(([, rv, ic]) => rv - ic)));
    expect(agreement).toMatchObject({ pairs: 60, patients: 12 });
    expect(printed(agreement?.bias, 4)).toBe('0.6022');
    expect(printed(agreement?.standardDeviation, 4)).toBe('0.9906');
    expect(printed(agreement?.limits.low, 3)).toBe('-1.339');
    expect(printed(agreement?.limits.high, 3)).toBe('2.544');
  });
});

it('oxygen saturation of 61 children in pairs: 2.477, 6.191, -9.66 to 14.61', () => {
  // Carstensen, Comparing Clinical Measurement Methods, Wiley 2010, prints 2.48 and 6.2 (from memory).
  const agreement = linkedAgreement(
    byPatient(SATURATIONS).map((rows) => rows.map(([, co, pulse]) => co - pulse)),
  );
  expect(agreement).toMatchObject({ pairs: 177, patients: 61 });
  expect(printed(agreement?.bias, 3)).toBe('2.477');
  expect(printed(agreement?.standardDeviation, 3)).toBe('6.191');
  expect(printed(agreement?.limits.low, 2)).toBe('-9.66');
  expect(printed(agreement?.limits.high, 2)).toBe('14.61');
});

it('intervals of limits: Zou 2013, the first four patients of the cardiac outputs', () => {
  // Printed: 0.7255, limits -2.14 and 3.59, intervals -9.83 to -0.33 and 1.77 to 11.27. Zou weighs patients
  // alike and takes the harmonic mean of their numbers of pairs.
  const groups = byPatient(CARDIAC_OUTPUTS)
    .slice(0, 4)
    .map((rows) => rows.map(([, rv, ic]) => rv - ic));
  const means = groups.map((group) => mean(group));
  const ofMeans = variance(means);
  const within = sum(groups.map((group) => sumOfSquares(group))) / (20 - 4);
  const lost = 1 - mean(groups.map((group) => 1 / group.length));
  const found = limitIntervals({
    bias: mean(means),
    biasError: Math.sqrt(ofMeans / 4),
    variance: ofMeans + lost * within,
    parts: [
      { variance: ofMeans, df: 3 },
      { variance: lost * within, df: 16 },
    ],
  });
  expect(printed(found.limits.low, 2)).toBe('-2.14');
  expect(printed(found.limits.high, 2)).toBe('3.59');
  // To a hundredth: the paper goes on with rounded numbers.
  const ends = [found.lowerInterval, found.upperInterval].flatMap(({ low, high }) => [low, high]);
  for (const [at, end] of [-9.83, -0.33, 1.77, 11.27].entries()) {
    expect(Math.abs((ends[at] ?? NaN) - end)).toBeLessThan(0.011);
  }
});

const inOrder = (low = NaN, middle = NaN, high = NaN): boolean => low <= middle && middle <= high;

describe('linked pairs of any patients', () => {
  const group = fc.array(fc.integer({ min: -40, max: 40 }), { minLength: 1, maxLength: 8 });
  const groups = fc.array(group, { minLength: 2, maxLength: 12 });

  it('of one pair each are the plain limits', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: -40, max: 40 }), { minLength: 2, maxLength: 40 }),
        (differences) => {
          const plain = limitsOfAgreement(differences);
          expect(linkedAgreement(differences.map((one) => [one]))).toMatchObject({ ...plain });
        },
      ),
    );
  });

  it('have limits inside their intervals, and a bias that is the mean of all pairs', () => {
    fc.assert(
      fc.property(groups, (patients) => {
        const found = linkedAgreement(patients);
        expect(found?.bias).toBeCloseTo(mean(patients.flat()), 9);
        expect(
          inOrder(found?.lowerInterval.low, found?.limits.low, found?.lowerInterval.high),
        ).toBe(true);
        expect(
          inOrder(found?.upperInterval.low, found?.limits.high, found?.upperInterval.high),
        ).toBe(true);
      }),
    );
  });

  it('of equal numbers have the variance of analysis by hand', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: -9, max: 9 }), fc.integer({ min: -9, max: 9 })), {
          minLength: 2,
        }),
        (two) => {
          const found = linkedAgreement(two);
          const within = mean(two.map(([a, b]) => (a - b) ** 2 / 2));
          const ofMeans = variance(two.map(([a, b]) => (a + b) / 2));
          const expected = Math.max(0, ofMeans - within / 2) + within;
          expect((found?.standardDeviation ?? NaN) ** 2).toBeCloseTo(expected, 9);
        },
      ),
    );
  });

  it('do not come from one patient, however many pairs there are', () => {
    expect(linkedAgreement([[1, 2, 3, 4, 5, 6]])).toBeNull();
    expect(linkedAgreement([])).toBeNull();
    expect(replicatedAgreement([{ first: [1], second: [2] }])).toBeNull();
  });
});
