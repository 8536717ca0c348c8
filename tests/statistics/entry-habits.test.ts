import * as fc from 'fast-check';
import { breathHeaping } from '../../src/statistics/breath-heaping.js';
import { lastDigits } from '../../src/statistics/last-digits.js';
import {
  chanceOfRepeat,
  countRepeats,
  followSets,
  type RepeatedSets,
  type WrittenSet,
} from '../../src/statistics/repeated-sets.js';
import { PRESSURES } from './published/blood-pressure-1999.js';

describe('last digits in the data of Bland and Altman 1999', () => {
  const ofMachine = PRESSURES.flatMap((row) => row.slice(6, 9));
  const ofObserver = PRESSURES.flatMap((row) => row.slice(0, 3));

  it('of the machine are spread as ten digits are: chi-square 8.02, p 0.53', () => {
    const found = lastDigits(ofMachine, 'every-digit');
    expect(found.counts).toEqual([15, 29, 29, 26, 31, 22, 27, 29, 25, 22]);
    expect(found.chiSquare.toFixed(2)).toBe('8.02');
    expect(found.p.toFixed(2)).toBe('0.53');
    expect(found.finding).toBe('as-expected');
  });

  it('of the observer accuse nobody when held against the marks of the scale: 0.88, p 0.93', () => {
    const found = lastDigits(ofObserver, 'even-digits');
    expect(found.counts).toEqual([54, 0, 50, 0, 54, 0, 46, 1, 50, 0]);
    expect([found.counted, found.offScale]).toEqual([254, 1]);
    expect(found.chiSquare.toFixed(2)).toBe('0.88');
    expect(found.p.toFixed(2)).toBe('0.93');
    expect(found.finding).toBe('as-expected');
  });

  it('would be 252.8 with the wrong expectation, and even then no preference for zero', () => {
    const found = lastDigits(ofObserver, 'every-digit');
    expect(found.chiSquare.toFixed(1)).toBe('252.8');
    expect(found.p).toBeGreaterThan(2.5e-49);
    expect(found.p).toBeLessThan(2.7e-49);
    expect(found.finding).toBe('as-expected');
  });
});

describe('last digits', () => {
  const rounded = Array.from({ length: 120 }, (_, at) => (at % 2 === 0 ? 120 : 122 + (at % 4) * 2));

  it('of somebody who rounds to tens are found', () => {
    expect(lastDigits(rounded, 'even-digits')).toMatchObject({ finding: 'zeros-preferred' });
  });

  it('of fewer than 100 numbers are not judged', () => {
    expect(lastDigits(rounded.slice(0, 99), 'even-digits')).toMatchObject({ finding: 'too-few' });
    expect(lastDigits([], 'even-digits')).toMatchObject({ finding: 'too-few', p: 1, zeroShare: 0 });
  });

  it('of a fraction are set aside, and every number is accounted for', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.integer({ min: 0, max: 300 }), fc.constant(97.5))),
        (all) => {
          const found = lastDigits(all, 'even-digits');
          expect(found.counted + found.offScale + found.notWhole).toBe(all.length);
          expect(found.p).toBeGreaterThanOrEqual(0);
          expect(found.p).toBeLessThanOrEqual(1);
        },
      ),
    );
  });
});

describe('respiratory rates', () => {
  it('that are all 18 are heaped', () => {
    expect(breathHeaping(Array<number>(50).fill(18), 'even-digits')).toMatchObject({
      usualShare: 1,
      variation: 0,
      commonest: { rate: 18, share: 1 },
      finding: 'heaped',
    });
  });

  it('that follow people are not, and fewer than 50 are not judged', () => {
    const counted = Array.from({ length: 60 }, (_, at) => 11 + (at % 17));
    expect(breathHeaping(counted, 'every-digit').finding).toBe('as-expected');
    expect(breathHeaping(counted.slice(0, 49), 'every-digit').finding).toBe('too-few');
    expect(breathHeaping([], 'every-digit')).toMatchObject({
      counted: 0,
      usualShare: 0,
      commonest: null,
    });
  });

  it('may be 16, 18 and 20 more often where only even rates can come', () => {
    const counted = Array.from(
      { length: 60 },
      (_, at) => [12, 16, 18, 20, 16, 18, 24, 20][at % 8] ?? 0,
    );
    expect(breathHeaping(counted, 'even-digits').finding).toBe('as-expected');
    expect(breathHeaping(counted, 'every-digit').finding).toBe('heaped');
  });

  it('as Kory found them recorded, 57 of 58 from 18 to 22 and 40 exactly 20, are heaped', () => {
    // Kory, JAMA 1957;165:448. How the other 17 were spread is not told.
    const recorded = [...Array<number>(40).fill(20), ...Array<number>(9).fill(18)];
    const found = breathHeaping([...recorded, ...Array<number>(8).fill(22), 24], 'every-digit');
    expect(found.finding).toBe('heaped');
  });
});

describe('repeated sets', () => {
  const repeatedSets = (sets: readonly WrittenSet[]): RepeatedSets =>
    countRepeats(followSets(sets));
  const HOUR_MS = 3_600_000;
  const set = (hour: number, pulse: string, extra: Record<string, string> = {}): WrittenSet => ({
    patient: 'a',
    takenAtMs: hour * HOUR_MS,
    numbers: {
      'pulse-rate': pulse,
      'respiratory-rate': '18',
      'body-temperature': '36.8',
      ...extra,
    },
  });

  it('by chance: the sum of squared shares, multiplied over the signs', () => {
    const sets = [set(0, '70'), set(4, '70'), set(8, '72'), set(12, '74')];
    expect(chanceOfRepeat(sets, ['pulse-rate'])).toBeCloseTo(0.25 + 0.0625 + 0.0625, 12);
    expect(chanceOfRepeat(sets, ['pulse-rate', 'respiratory-rate'])).toBeCloseTo(0.375, 12);
  });

  it('count from half an hour after the set before', () => {
    expect(repeatedSets([set(0, '70'), set(0.5, '70')])).toMatchObject({
      compared: 0,
      repeated: 0,
    });
    expect(repeatedSets([set(0, '70'), set(0.6, '70')])).toMatchObject({
      compared: 1,
      repeated: 1,
    });
  });

  it('are a finding twice running, not once among many', () => {
    const changing = Array.from({ length: 24 }, (_, at) =>
      set(at, String(60 + at), {
        'body-temperature': String(36 + (at % 5)),
        'respiratory-rate': String(at),
      }),
    );
    expect(repeatedSets([...changing, set(24, '83', changing.at(-1)?.numbers)])).toMatchObject({
      repeated: 1,
      finding: 'as-expected',
    });
    expect(repeatedSets([set(0, '70'), set(4, '70'), set(8, '70')])).toMatchObject({
      twiceRunning: 1,
      finding: 'repeated',
    });
  });

  it('find three signs that stand still through four sets while the pulse moves', () => {
    const still = ['70', '75', '71', '77'].map((pulse, at) =>
      set(at * 4, pulse, { 'oxygen-saturation': '97' }),
    );
    expect(repeatedSets(still)).toMatchObject({ repeated: 0, standstills: 1, finding: 'repeated' });
    expect(repeatedSets(still.slice(0, 3))).toMatchObject({ standstills: 0, finding: 'too-few' });
  });

  it('hold a patient only against himself, and a set only against one of the same signs', () => {
    const other = { ...set(1, '70'), patient: 'b' };
    expect(repeatedSets([set(0, '70'), other])).toMatchObject({ compared: 0 });
    const more = set(4, '70', { 'body-weight': '71.4' });
    expect(repeatedSets([set(0, '70'), more])).toMatchObject({ compared: 1, repeated: 0 });
  });
});
