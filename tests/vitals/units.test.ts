import { UcumLhcUtils } from '@lhncbc/ucum-lhc';
import { Decimal } from 'decimal.js';
import fc from 'fast-check';
import { CATALOGUE } from '../../src/vitals/catalogue.js';
import { isConverted, toCanonical, writtenText } from '../../src/vitals/units.js';
import { ENTERED_UNITS, VITALS, type EnteredUnit } from '../../src/vitals/words.js';

/** Each pair of a unit that some sign takes and the unit in which that sign is kept. */
const PAIRS = VITALS.flatMap((vital) => {
  const { unit, unitsTaken } = CATALOGUE[vital];
  return unit === null ? [] : unitsTaken.map((entered) => ({ vital, entered, kept: unit }));
});

/** Numbers from..to in steps of 1/10^decimals, as texts. */
function steps(from: number, to: number, decimals: number): string[] {
  const scale = 10 ** decimals;
  const count = Math.round((to - from) * scale);
  return Array.from({ length: count + 1 }, (_, i) =>
    (Math.round(from * scale + i) / scale).toFixed(decimals),
  );
}

describe('conversions against the UCUM unit library @lhncbc/ucum-lhc', () => {
  const units = UcumLhcUtils.getInstance();

  it.each(PAIRS)('$vital: $entered is kept in $kept', ({ entered, kept }) => {
    fc.assert(
      fc.property(
        fc.integer({ min: -1_000, max: 999_999 }),
        fc.integer({ min: 0, max: 2 }),
        (n, d) => {
          const written = (n / 10 ** d).toFixed(d);
          const { text, number } = toCanonical(written, entered);
          const decimals = text.split('.')[1]?.length ?? 0;
          const oracle = units.convertUnitTo(entered, Number(written), kept);
          expect(oracle.status).toBe('succeeded');
          // Half a unit of the last place, and what binary arithmetic of the oracle adds.
          const tolerance = isConverted(entered) ? 0.5 * 10 ** -decimals : 0;
          expect(Math.abs(number - (oracle.toVal ?? NaN))).toBeLessThanOrEqual(tolerance + 1e-6);
        },
      ),
    );
  });
});

describe('conversions against published figures', () => {
  it.each([
    // Definition of the Fahrenheit scale (NIST SP 811, 2008, B.8).
    ['32', '[degF]', '0.00'],
    ['212', '[degF]', '100.00'],
    ['-40', '[degF]', '-40.00'],
    ['98.6', '[degF]', '37.00'],
    ['104', '[degF]', '40.00'],
    // One avoirdupois pound is 0.453 592 37 kg, one inch 2.54 cm, exactly (NIST SP 811, B.8).
    ['1', '[lb_av]', '0.45'],
    ['1000', '[lb_av]', '453.59'],
    ['100', '[in_i]', '254.0'],
    ['67.5', '[in_i]', '171.5'],
    // m[Hg] is 133.322 kPa (UCUM 2.2).
    ['133.322', 'kPa', '1000.0'],
    ['16', 'kPa', '120.0'],
    ['3415', 'g', '3.415'],
    ['1.725', 'm', '172.5'],
    ['1.70', 'm', '170'],
  ] as const)('%s %s is %s', (written, unit, expected) => {
    expect(toCanonical(written, unit).text).toBe(expected);
  });

  it('agrees with the rounded NIST figure of the millimetre of mercury to a tenth', () => {
    // NIST SP 811 B.8: millimeter of mercury, conventional, 1.333 224 E+02 Pa.
    for (const kPa of steps(0.1, 40, 1)) {
      const nist = new Decimal(kPa).times(1000).dividedBy('133.3224').toNumber();
      expect(Math.abs(toCanonical(kPa, 'kPa').number - nist)).toBeLessThan(0.052);
    }
  });
});

/** How many of the entered values do not come back from their kept value at the digits entered. */
function lostOnTheWayBack(
  entered: readonly string[],
  keep: (text: string) => string,
  back: (kept: Decimal) => Decimal,
): number {
  return entered.filter((text) => {
    const decimals = text.split('.')[1]?.length ?? 0;
    return back(new Decimal(keep(text))).toFixed(decimals, Decimal.ROUND_HALF_UP) !== text;
  }).length;
}

describe('the decimals kept', () => {
  // `loses`: how many of these values one decimal fewer would not bring back.
  const cases = [
    {
      unit: '[degF]',
      decimals: 2,
      entered: steps(50, 120, 1),
      there: (f: Decimal) => f.minus(32).times(5).dividedBy(9),
      back: (c: Decimal) => c.times(9).dividedBy(5).plus(32),
      loses: 311,
    },
    {
      unit: 'kPa',
      decimals: 1,
      entered: steps(2, 40, 1),
      there: (p: Decimal) => p.dividedBy('0.133322'),
      back: (p: Decimal) => p.times('0.133322'),
      loses: 95,
    },
    {
      unit: '[lb_av]',
      decimals: 2,
      entered: steps(0.2, 660, 1),
      there: (lb: Decimal) => lb.times('0.45359237'),
      back: (kg: Decimal) => kg.dividedBy('0.45359237'),
      loses: 3606,
    },
    {
      unit: '[in_i]',
      decimals: 1,
      entered: steps(10, 99.9, 1),
      there: (inch: Decimal) => inch.times('2.54'),
      back: (cm: Decimal) => cm.dividedBy('2.54'),
      loses: 672,
    },
    {
      unit: 'g',
      decimals: 3,
      entered: steps(200, 9_999, 0),
      there: (g: Decimal) => g.dividedBy(1000),
      back: (kg: Decimal) => kg.times(1000),
      loses: 8_820,
    },
  ] as const;

  it.each(cases)('lose nothing of $unit', ({ unit, entered, back }) => {
    expect(lostOnTheWayBack(entered, (text) => toCanonical(text, unit).text, back)).toBe(0);
  });

  it.each(cases)(
    'are no more than needed for $unit',
    ({ entered, decimals, there, back, loses }) => {
      const keepLess = (text: string): string =>
        there(new Decimal(text)).toFixed(decimals - 1, Decimal.ROUND_HALF_UP);
      expect(lostOnTheWayBack(entered, keepLess, back)).toBe(loses);
    },
  );
});

describe('a value in the unit it is kept in', () => {
  it.each([
    ['36.50', '36.50'],
    ['36.5', '36.5'],
    [36.5, '36.5'],
    [96, '96'],
    ['-0.0', '0.0'],
    [-0, '0'],
    [1e-7, '0'],
    [36.666666666666664, '36.666667'],
    [0.1 + 0.2, '0.3'],
  ])('%p is %p', (written, expected) => {
    expect(toCanonical(written, 'Cel')).toEqual({ text: expected, number: Number(expected) });
  });

  it('keeps every digit of a decimal text', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 999_999 }),
        fc.integer({ min: 0, max: 6 }),
        (n, decimals) => {
          const text = (n / 10 ** decimals).toFixed(decimals);
          expect(toCanonical(text, 'kg').text).toBe(text);
        },
      ),
    );
  });

  it('is printed without an exponent, whatever the number', () => {
    fc.assert(
      fc.property(fc.double({ min: -999_999, max: 999_999, noNaN: true }), (number) => {
        const { text } = toCanonical(number, 'L/min');
        expect(text).toMatch(/^-?(0|[1-9][0-9]*)(\.[0-9]{1,6})?$/);
        expect(Math.abs(Number(text) - number)).toBeLessThanOrEqual(0.5000001e-6);
        expect(Number(writtenText(number))).toBe(number === 0 ? 0 : number);
      }),
    );
  });
});

describe('the units a sender may name', () => {
  it('are each taken by some sign', () => {
    const taken = new Set<EnteredUnit>(PAIRS.map(({ entered }) => entered));
    expect([...taken].sort()).toEqual([...ENTERED_UNITS].sort());
  });
});
