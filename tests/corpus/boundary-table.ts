/**
 * Bounds by age, typed from the publications and from nothing in `src`. A row holds from the end of the row
 * before it until its own; the last one has no end. Where a publication prints "below" or "above", the
 * next whole value stands here.
 */

/** An end of a band: days, months or years of age. Null: it has none. */
export type Until = `${number} d` | `${number} mo` | `${number} y` | null;
/** One number for each band; null: the publication has none. */
export type Steps = readonly (readonly [until: Until, value: number | null])[];

export interface SexedSteps {
  readonly male: Steps;
  readonly female: Steps;
}

export interface SignTable {
  readonly name: string;
  /** The reading that carries a value of it, as a sender would send it. */
  readonly reading: (value: number) => object;
  readonly step: number;
  /** Up to it LL. */
  readonly criticalLow: Steps;
  /** N from it on. */
  readonly usualFrom: Steps;
  /** N up to it. */
  readonly usualTo: Steps | SexedSteps;
  /** From it on HH. */
  readonly criticalHigh: Steps;
  /** Least value that can be a measurement, and the least that is not held. */
  readonly possibleFrom: number;
  readonly passesFrom: Steps;
  /** The greatest value that is not held, and the greatest that can be a measurement. */
  readonly passesTo: Steps;
  readonly possibleTo: number;
}

const NONE: Steps = [[null, null]];
const always = (value: number): Steps => [[null, value]];
type Bands = readonly (readonly [until: Until, from: number, to: number])[];
const starts = (bands: Bands): Steps => bands.map(([until, from]) => [until, from]);
const ends = (bands: Bands): Steps => bands.map(([until, , to]) => [until, to]);

/** NEWS2 (Royal College of Physicians 2017), Chart 1: the bands of three points, and those of none. */
const NEWS2 = {
  breathing: { three: [8, 25], none: [12, 20] },
  saturation: { three: 91, none: 96 },
  systolic: { three: [90, 220], low: 101 },
  pulse: { three: [40, 131] },
  temperature: { three: 35.0, none: [36.1, 38.0] },
} as const;

/** Fleming et al., Lancet 2011: 1st and 99th centile of heart rate. */
const FLEMING_PULSE: Bands = [
  ['3 mo', 107, 181],
  ['6 mo', 104, 175],
  ['9 mo', 98, 168],
  ['12 mo', 93, 161],
  ['18 mo', 88, 156],
  ['24 mo', 82, 149],
  ['3 y', 76, 142],
  ['4 y', 70, 136],
  ['6 y', 65, 131],
  ['8 y', 59, 123],
  ['12 y', 52, 115],
  ['15 y', 47, 108],
  ['18 y', 43, 104],
];

/** Fleming et al., Lancet 2011: 1st and 99th centile of respiratory rate (from memory, unconfirmed). */
const FLEMING_BREATHING: Bands = [
  ['3 mo', 25, 66],
  ['6 mo', 24, 64],
  ['9 mo', 23, 61],
  ['12 mo', 22, 58],
  ['18 mo', 21, 53],
  ['24 mo', 19, 46],
  ['3 y', 18, 38],
  ['4 y', 17, 33],
  ['6 y', 17, 29],
  ['8 y', 16, 27],
  ['12 y', 14, 25],
  ['15 y', 12, 23],
  ['18 y', 11, 22],
];

/** Bedside PEWS (Parshuram et al., Critical Care 2009), Table 1: the outermost bands. "> 150" is 151. */
const PEWS_PULSE: Bands = [
  ['3 mo', 80, 190],
  ['12 mo', 70, 180],
  ['4 y', 60, 170],
  ['12 y', 50, 151],
  ['18 y', 40, 140],
];
const PEWS_BREATHING: Bands = [
  ['3 mo', 15, 91],
  ['12 mo', 15, 81],
  ['4 y', 12, 71],
  ['12 y', 10, 51],
  ['18 y', 9, 30],
];
const PEWS_SYSTOLIC: Steps = [
  ['3 mo', 130],
  ['12 mo', 150],
  ['4 y', 160],
  ['12 y', 170],
  ['18 y', 190],
];

/** PALS: hypotension is a systolic below 60 (newborn), 70 (infant), 70 + 2 × age (1 to 10 y), 90. */
const PALS_HYPOTENSION: Steps = [
  ['28 d', 59],
  ['12 mo', 69],
  ['2 y', 71],
  ['3 y', 73],
  ['4 y', 75],
  ['5 y', 77],
  ['6 y', 79],
  ['7 y', 81],
  ['8 y', 83],
  ['9 y', 85],
  ['10 y', 87],
  ['18 y', 89],
];
/** PALS: lower ends of the usual pressures, and from 16 years NEWS2 (PALS from memory, unconfirmed). */
const PALS_SYSTOLIC_LOW: Steps = [
  ['28 d', 67],
  ['12 mo', 72],
  ['3 y', 86],
  ['6 y', 89],
  ['10 y', 97],
  ['12 y', 102],
  ['16 y', 110],
  [null, NEWS2.systolic.low],
];
/** As above; from 16 years on 60 is common practice, no source. */
const PALS_DIASTOLIC_LOW: Steps = [
  ['28 d', 35],
  ['12 mo', 37],
  ['3 y', 42],
  ['6 y', 46],
  ['10 y', 57],
  ['12 y', 61],
  ['16 y', 64],
  [null, 60],
];

/** AAP 2017 (Flynn et al., Pediatrics), Table 6: further evaluation at or above; 120/80 from 13 years. */
const AAP: readonly (readonly [year: number, boys: string, girls: string])[] = [
  [1, '98/52', '98/54'],
  [2, '100/55', '101/58'],
  [3, '101/58', '102/60'],
  [4, '102/60', '103/62'],
  [5, '103/63', '104/64'],
  [6, '105/66', '105/67'],
  [7, '106/68', '106/68'],
  [8, '107/69', '107/69'],
  [9, '107/70', '108/71'],
  [10, '108/72', '109/72'],
  [11, '110/74', '111/74'],
  [12, '113/75', '114/75'],
];

/** Below one year the upper ends of PALS; adults from NICE NG136: 140/90 is high. */
function highPressure(part: 0 | 1, newborn: number, infant: number, adult: number): SexedSteps {
  const upTo = (sex: 1 | 2): Steps => [
    ['28 d', newborn],
    ['12 mo', infant],
    ...AAP.map((row): Steps[number] => [`${row[0] + 1} y`, Number(row[sex].split('/')[part]) - 1]),
    ['18 y', part === 0 ? 119 : 79],
    [null, adult],
  ];
  return { male: upTo(1), female: upTo(2) };
}

/** Hold bounds of three ages: below a year, 1 to 12 years, from 13 years on. */
const byHoldAge = (infant: number, child: number, adult: number): Steps => [
  ['12 mo', infant],
  ['13 y', child],
  [null, adult],
];

const pressure = (part: string, method: string) => (value: number) => ({
  vital: 'blood-pressure',
  method,
  [part]: value,
  unit: 'mm[Hg]',
});
const number =
  (vital: string, unit: string, rest: object = {}) =>
  (value: number) => ({
    vital,
    ...rest,
    value,
    unit,
  });

const SYSTOLIC = {
  step: 1,
  criticalLow: [...PALS_HYPOTENSION, [null, NEWS2.systolic.three[0]]] satisfies Steps,
  usualFrom: PALS_SYSTOLIC_LOW,
  usualTo: highPressure(0, 84, 104, 139),
  criticalHigh: [...PEWS_SYSTOLIC, [null, NEWS2.systolic.three[1]]] satisfies Steps,
  passesFrom: byHoldAge(25, 45, 40),
  passesTo: byHoldAge(150, 200, 250),
};
/** No code at all: size, oxygen given, mean pressure. */
const UNCODED = { criticalLow: NONE, usualFrom: NONE, usualTo: NONE, criticalHigh: NONE };

/**
 * Possible and passing values: MIMIC-III benchmark, MIMIC Code, ricu, OHDSI and, where they differ or are
 * silent, proposed defaults of this gateway. Of oxygen given: common practice, no source.
 */
export const SIGNS: readonly SignTable[] = [
  {
    name: 'respiratory rate',
    reading: number('respiratory-rate', '/min', { method: 'counted' }),
    step: 1,
    criticalLow: [...starts(PEWS_BREATHING), [null, NEWS2.breathing.three[0]]],
    usualFrom: [...starts(FLEMING_BREATHING), [null, NEWS2.breathing.none[0]]],
    usualTo: [...ends(FLEMING_BREATHING), [null, NEWS2.breathing.none[1]]],
    criticalHigh: [...ends(PEWS_BREATHING), [null, NEWS2.breathing.three[1]]],
    possibleFrom: 0,
    passesFrom: always(1),
    passesTo: byHoldAge(100, 80, 70),
    possibleTo: 150,
  },
  {
    // 60 and 100 in adults: common practice, no source.
    name: 'pulse, by hand',
    reading: number('pulse-rate', '/min', { method: 'palpation', site: 'radial-artery' }),
    step: 1,
    criticalLow: [...starts(PEWS_PULSE), [null, NEWS2.pulse.three[0]]],
    usualFrom: [...starts(FLEMING_PULSE), [null, 60]],
    usualTo: [...ends(FLEMING_PULSE), [null, 100]],
    criticalHigh: [...ends(PEWS_PULSE), [null, NEWS2.pulse.three[1]]],
    possibleFrom: 0,
    passesFrom: byHoldAge(50, 40, 25),
    passesTo: always(250),
    possibleTo: 350,
  },
  {
    // Zero is no signal, and one reads as a fraction: two is the least. Children: proposed after NEWS2.
    name: 'oxygen saturation',
    reading: number('oxygen-saturation', '%', { method: 'pulse-oximetry' }),
    step: 1,
    criticalLow: always(NEWS2.saturation.three),
    usualFrom: always(NEWS2.saturation.none),
    usualTo: NONE,
    criticalHigh: NONE,
    possibleFrom: 2,
    passesFrom: always(50),
    passesTo: NONE,
    possibleTo: 100,
  },
  {
    // Newborn: WHO 1997, thermal protection of the newborn; 38.0 critical is common practice, no source.
    // From 28 days on NEWS2; 40.0 critical: team-calling criteria (Smith 2008, supplementary table).
    name: 'body temperature',
    reading: number('body-temperature', 'Cel', { site: 'tympanic' }),
    step: 0.1,
    criticalLow: [
      ['28 d', 35.9],
      [null, NEWS2.temperature.three],
    ],
    usualFrom: [
      ['28 d', 36.5],
      [null, NEWS2.temperature.none[0]],
    ],
    usualTo: [
      ['28 d', 37.5],
      [null, NEWS2.temperature.none[1]],
    ],
    criticalHigh: [
      ['28 d', 38.0],
      [null, 40.0],
    ],
    possibleFrom: 10,
    passesFrom: always(26),
    passesTo: always(42),
    possibleTo: 47,
  },
  {
    ...SYSTOLIC,
    name: 'systolic pressure, by cuff',
    reading: pressure('systolic', 'oscillometry'),
    possibleFrom: 20,
    possibleTo: 300,
  },
  {
    ...SYSTOLIC,
    name: 'systolic pressure, by arterial line',
    reading: pressure('systolic', 'invasive'),
    possibleFrom: 1,
    possibleTo: 375,
  },
  {
    // Zero from a cuff is no signal. 39 in adults, 19 and 9 in children: proposed (Versmold 1981 for infants);
    // 120: NICE NG136.
    name: 'diastolic pressure, by cuff',
    reading: pressure('diastolic', 'oscillometry'),
    step: 1,
    criticalLow: byHoldAge(9, 19, 39),
    usualFrom: PALS_DIASTOLIC_LOW,
    usualTo: highPressure(1, 53, 56, 89),
    criticalHigh: always(120),
    possibleFrom: 1,
    passesFrom: byHoldAge(10, 20, 20),
    passesTo: always(200),
    possibleTo: 225,
  },
  {
    ...UNCODED,
    name: 'mean pressure, by cuff',
    reading: pressure('mean', 'oscillometry'),
    step: 1,
    possibleFrom: 10,
    passesFrom: byHoldAge(15, 30, 30),
    passesTo: always(190),
    possibleTo: 250,
  },
  {
    ...UNCODED,
    name: 'body weight',
    reading: number('body-weight', 'kg'),
    step: 0.1,
    possibleFrom: 0.2,
    passesFrom: always(0.4),
    passesTo: always(250),
    possibleTo: 680,
  },
  {
    ...UNCODED,
    name: 'body height',
    reading: number('body-height', 'cm'),
    step: 1,
    possibleFrom: 20,
    passesFrom: always(25),
    passesTo: always(230),
    possibleTo: 275,
  },
  {
    ...UNCODED,
    name: 'oxygen flow',
    reading: number('oxygen-flow', 'L/min'),
    step: 1,
    possibleFrom: 0,
    passesFrom: always(0),
    passesTo: always(70),
    possibleTo: 150,
  },
  {
    ...UNCODED,
    name: 'inspired oxygen',
    reading: number('inspired-oxygen', '%'),
    step: 1,
    possibleFrom: 10,
    passesFrom: always(20),
    passesTo: NONE,
    possibleTo: 100,
  },
];
