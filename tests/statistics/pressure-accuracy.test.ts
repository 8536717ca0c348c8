import {
  largestDeviation,
  sharesWithin,
  validationFigures,
} from '../../src/statistics/pressure-accuracy.js';

// ISO 81060-2 criterion 2 (AAMI SP10 table, ± mean against SD): the ends as printed in Clinical Hypertension
// 2024;30 (s40885-024-00268-7), table 1; those between from memory.
it.each([
  [0, 6.95],
  [1, 6.87],
  [-2, 6.65],
  [3, 6.25],
  [-4, 5.64],
  [5, 4.79],
])('a mean difference of %d allows a standard deviation of %d', (meanDifference, deviation) => {
  expect(largestDeviation(meanDifference)).toBeCloseTo(deviation, 2);
});

it('allows none beyond 5 mmHg', () => {
  expect(largestDeviation(5.1)).toBeNull();
  expect(largestDeviation(-6)).toBeNull();
});

it('counts a difference of exactly 5, 10 or 15 as within', () => {
  expect(sharesWithin([0, 5, -5, 6, 10, -11, 15, 16])).toEqual({
    within5: 3 / 8,
    within10: 5 / 8,
    within15: 7 / 8,
  });
});

describe('the two criteria', () => {
  it('are met by small differences, and say what they were held against', () => {
    const found = validationFigures([
      [1, 2, 3],
      [-1, 0, 1],
      [4, 2, 0],
    ]);
    expect(found).toMatchObject({ meetsFirst: true, meetsSecond: true, largestDeviation: 6.82 });
  });

  it('are judged one by one: spread within patients fails the first only', () => {
    const found = validationFigures([
      [-12, 12],
      [12, -12],
      [11, -11],
    ]);
    expect(found).toMatchObject({ meetsFirst: false, meetsSecond: true, deviationOfMeans: 0 });
  });

  it('fail with a mean beyond 5 mmHg', () => {
    expect(validationFigures([[6], [6.2], [5.9]])).toMatchObject({
      meetsFirst: false,
      meetsSecond: false,
      largestDeviation: null,
    });
  });

  it('need two patients', () => {
    expect(validationFigures([[1, 2, 3]])).toBeNull();
  });
});
