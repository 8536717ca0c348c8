/**
 * Interpretation bands against the published tables, typed here anew from the sources and not from the
 * project's own tables.
 */
import { ageAt } from '../../src/vitals/age.js';
import { interpretReading } from '../../src/vitals/interpret.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { Gender } from '../../src/vitals/words.js';
import type { Reading } from '../../src/vitals/shapes.js';
import {
  manualPressure,
  NOON,
  palpatedPulse,
  respiratoryRate,
  saturation,
  temperature,
} from '../rules/build-context.js';

/** Someone who turned so many months old today, or was so many days short of it. */
function ageOf(months: number, daysShort = 0) {
  const born = new Date(Date.UTC(2026, 2 - months, 14 + daysShort));
  const age = ageAt(born.toISOString().slice(0, 10), NOON);
  if (age === null) throw new Error('no age');
  return age;
}

const ADULT = ageOf(40 * 12);

function codeOf(reading: Reading, age = ADULT, gender: Gender = null) {
  const { value, systolic } = interpretReading(reading, age, gender, DEFAULT_LIMITS);
  return value ?? systolic;
}

function diastolicCode(diastolic: number, age = ADULT, gender: Gender = null) {
  return interpretReading(manualPressure([null, diastolic]), age, gender, DEFAULT_LIMITS).diastolic;
}

const systolicOnly = (systolic: number) => manualPressure([systolic, null]);

describe('adults: NEWS2, RCP London 2017, Chart 1', () => {
  /** Bands that score 3 at either end of the chart. */
  const scoreThree = [
    { sign: 'respiratory rate', make: respiratoryRate, low: 8, high: 25 },
    { sign: 'systolic pressure', make: systolicOnly, low: 90, high: 220 },
    { sign: 'pulse', make: palpatedPulse, low: 40, high: 131 },
  ];

  it.each(scoreThree)('$sign is critical where the chart scores 3', ({ make, low, high }) => {
    expect(codeOf(make(low))).toBe('LL');
    expect(codeOf(make(low + 1))).toBe('L');
    expect(codeOf(make(high - 1))).toBe('H');
    expect(codeOf(make(high))).toBe('HH');
  });

  it('saturation, scale 1: 3 points up to 91, none from 96', () => {
    expect([91, 92, 95, 96, 100].map((value) => codeOf(saturation(value)))).toEqual([
      'LL',
      'L',
      'L',
      'N',
      'N',
    ]);
  });

  it('temperature: 3 points up to 35.0, none from 36.1 to 38.0', () => {
    const codes = [35.0, 35.1, 36.0, 36.1, 38.0, 38.1, 39.9].map((value) =>
      codeOf(temperature(value)),
    );
    expect(codes).toEqual(['LL', 'L', 'L', 'N', 'N', 'H', 'H']);
  });

  it('respiratory rate scores nothing from 12 to 20', () => {
    expect([11, 12, 20, 21].map((value) => codeOf(respiratoryRate(value)))).toEqual([
      'L',
      'N',
      'N',
      'H',
    ]);
  });
});

describe('adults: what NEWS2 does not give', () => {
  it('temperature is HH from 40.0 (team-calling criteria, Smith 2008: above 38 to above 40)', () => {
    expect(codeOf(temperature(40.0))).toBe('HH');
  });

  it('pulse 60 to 100 is usual (common practice, no source)', () => {
    expect([59, 60, 100, 101].map((value) => codeOf(palpatedPulse(value)))).toEqual([
      'L',
      'N',
      'N',
      'H',
    ]);
  });

  it('systolic is usual from 101 (NEWS2 above its 2-point band) to 139 (NICE NG136, ESC: 140)', () => {
    expect([100, 101, 139, 140].map((value) => codeOf(systolicOnly(value)))).toEqual([
      'L',
      'N',
      'N',
      'H',
    ]);
  });

  it('diastolic: 90 and 120 from NICE NG136; 40 and 60 common practice, no source', () => {
    expect([39, 40, 59, 60, 89, 90, 119, 120].map((value) => diastolicCode(value))).toEqual([
      'LL',
      'L',
      'L',
      'N',
      'N',
      'H',
      'H',
      'HH',
    ]);
  });

  it('mean pressure, size and oxygen given have no code', () => {
    expect(interpretReading(manualPressure([null, null, 40]), ADULT, null, DEFAULT_LIMITS)).toEqual(
      {},
    );
    expect(interpretReading(manualPressure([120, 80, 93]), ADULT, null, DEFAULT_LIMITS)).toEqual({
      systolic: 'N',
      diastolic: 'N',
    });
  });
});

/** Fleming et al., Lancet 2011: age from, to (months), heart rate 1st and 99th centile, respiratory rate (from memory, unconfirmed). */
const FLEMING: readonly (readonly number[])[] = [
  [0, 3, 107, 181, 25, 66],
  [3, 6, 104, 175, 24, 64],
  [6, 9, 98, 168, 23, 61],
  [9, 12, 93, 161, 22, 58],
  [12, 18, 88, 156, 21, 53],
  [18, 24, 82, 149, 19, 46],
  [24, 36, 76, 142, 18, 38],
  [36, 48, 70, 136, 17, 33],
  [48, 72, 65, 131, 17, 29],
  [72, 96, 59, 123, 16, 27],
  [96, 144, 52, 115, 14, 25],
  [144, 180, 47, 108, 12, 23],
  [180, 216, 43, 104, 11, 22],
];

/**
 * Parshuram et al., Crit Care 2009;13:R135, Table 1, outermost sub-score: age from, to (months), heart
 * rate at or below / at or above, respiratory rate likewise, systolic at or above.
 */
const PEWS: readonly (readonly number[])[] = [
  [0, 3, 80, 190, 15, 91, 130],
  [3, 12, 70, 180, 15, 81, 150],
  [12, 48, 60, 170, 12, 71, 160],
  [48, 144, 50, 151, 10, 51, 170],
  [144, 216, 40, 140, 9, 30, 190],
];

describe('children: Fleming 2011, 1st and 99th centile', () => {
  describe.each(FLEMING)('%i to under %i months', (from, to, lowHr, highHr, lowRr, highRr) => {
    it.each([
      ['on the first day', from, 0],
      ['on the last day', to, 1],
    ])('%s', (_day, months, daysShort) => {
      const age = ageOf(months, daysShort);
      const codes = (make: (value: number) => Reading, low: number, high: number) =>
        [low - 1, low, high, high + 1].map((value) => codeOf(make(value), age));
      expect(codes(palpatedPulse, lowHr, highHr)).toEqual(['L', 'N', 'N', 'H']);
      expect(codes(respiratoryRate, lowRr, highRr)).toEqual(['L', 'N', 'N', 'H']);
    });
  });
});

describe('children: Bedside PEWS 2009, outermost band', () => {
  describe.each(PEWS)('%i to under %i months', (from, to, llHr, hhHr, llRr, hhRr, hhSystolic) => {
    it.each([
      ['on the first day', from, 0],
      ['on the last day', to, 1],
    ])('%s', (_day, months, daysShort) => {
      const age = ageOf(months, daysShort);
      const codes = (make: (value: number) => Reading, low: number, high: number) =>
        [low, low + 1, high - 1, high].map((value) => codeOf(make(value), age));
      expect(codes(palpatedPulse, llHr, hhHr)).toEqual(['LL', 'L', 'H', 'HH']);
      expect(codes(respiratoryRate, llRr, hhRr)).toEqual(['LL', 'L', 'H', 'HH']);
      expect([hhSystolic - 1, hhSystolic].map((value) => codeOf(systolicOnly(value), age))).toEqual(
        ['H', 'HH'],
      );
    });
  });
});

describe('children: PALS definition of hypotension', () => {
  const below = [
    ['a newborn of 27 days', ageOf(1, 1), 60],
    ['an infant of 28 days', ageOf(1), 70],
    ['an infant of 11 months', ageOf(12, 1), 70],
    ['1 year', ageOf(12), 72],
    ['5 years', ageOf(60), 80],
    ['10 years', ageOf(120), 90],
    ['11 years', ageOf(132), 90],
    ['17 years', ageOf(216, 1), 90],
  ] as const;

  it.each(below)('%s: below the limit, not at it', (_name, age, limit) => {
    expect(codeOf(systolicOnly(limit - 1), age)).toBe('LL');
    expect(codeOf(systolicOnly(limit), age)).toBe('L');
  });
});

describe('children: AAP 2017, Table 6', () => {
  const boys = '98/52 100/55 101/58 102/60 103/63 105/66 106/68 107/69 107/70 108/72 110/74 113/75';
  const girls =
    '98/54 101/58 102/60 103/62 104/64 105/67 106/68 107/69 108/71 109/72 111/74 114/75';
  const parse = (row: string) => row.split(' ').map((pair) => pair.split('/').map(Number));
  const rows = parse(boys).map(
    (boy, index) => [index + 1, boy, parse(girls)[index] ?? []] as const,
  );

  it.each(rows)('%i years: high from the figure on, for boys and girls', (year, boy, girl) => {
    for (const [gender, [systolic = 0, diastolic = 0]] of [
      ['male', boy],
      ['female', girl],
    ] as const) {
      for (const age of [ageOf(year * 12), ageOf((year + 1) * 12, 1)]) {
        expect(codeOf(systolicOnly(systolic - 1), age, gender)).toBe('N');
        expect(codeOf(systolicOnly(systolic), age, gender)).toBe('H');
        expect(diastolicCode(diastolic - 1, age, gender)).toBe('N');
        expect(diastolicCode(diastolic, age, gender)).toBe('H');
      }
    }
  });

  it.each(rows)('%i years: the lower figure where the sex is not known', (year, boy, girl) => {
    const age = ageOf(year * 12);
    const systolic = Math.min(boy[0] ?? 0, girl[0] ?? 0);
    for (const gender of [null, 'other', 'unknown'] as const) {
      expect(codeOf(systolicOnly(systolic), age, gender)).toBe('H');
      expect(codeOf(systolicOnly(systolic - 1), age, gender)).toBe('N');
    }
  });

  it('from 13 years 120/80 for both', () => {
    for (const age of [ageOf(13 * 12), ageOf(18 * 12, 1)]) {
      expect([119, 120].map((value) => codeOf(systolicOnly(value), age, 'male'))).toEqual([
        'N',
        'H',
      ]);
      expect([79, 80].map((value) => diastolicCode(value, age, 'female'))).toEqual(['N', 'H']);
    }
  });
});

describe('newborns', () => {
  it('temperature: WHO 1997 definitions; HH from 38.0 is common practice, no source', () => {
    const codes = [31.9, 35.9, 36.0, 36.4, 36.5, 37.5, 37.6, 37.9, 38.0].map((value) =>
      codeOf(temperature(value), ageOf(1, 1)),
    );
    expect(codes).toEqual(['LL', 'LL', 'L', 'L', 'N', 'N', 'H', 'H', 'HH']);
  });

  it('has the bands of the adult from 28 days on', () => {
    expect(codeOf(temperature(35.9), ageOf(1))).toBe('L');
  });

  it('a normal pressure at 750 g (Versmold 1981: 44/24 mmHg) is hypotension by PALS, but not doubted', () => {
    expect(interpretReading(cuff(44, 24), ageOf(0), null, DEFAULT_LIMITS)).toEqual({
      systolic: 'LL',
      diastolic: 'L',
    });
  });

  const cuff = (systolic: number, diastolic: number) => manualPressure([systolic, diastolic]);
});

describe('the end of childhood', () => {
  it('judges a pulse of 43 by Fleming until the day before the 18th birthday, then as an adult', () => {
    expect(codeOf(palpatedPulse(43), ageOf(216, 1))).toBe('N');
    expect(codeOf(palpatedPulse(43), ageOf(216))).toBe('L');
  });
});
