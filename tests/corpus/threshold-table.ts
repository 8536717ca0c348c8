/**
 * The thresholds of rules that compare readings, typed from the publications named: up to where a rule is
 * silent and from where it speaks. Asked is the last set of each story.
 */
import {
  apart,
  together,
  breaths,
  byCuff,
  byEar,
  flow,
  inspired,
  pulse,
  reading,
  saturation,
  warmth,
  weight,
  type Story,
} from './sent-readings.js';

export interface Threshold {
  /** The rule that speaks or lifts, and of which number. */
  readonly rule: string;
  readonly of: string;
  readonly story: (value: number) => Story;
  readonly speaks: readonly number[];
  readonly silent: readonly number[];
  readonly birthDate?: string;
  /** A device that nobody watches sent it, so many minutes after the time of the last set. */
  readonly arrivesAfterMin?: (value: number) => number;
}

const HOUR = 60;
const DAY = 24 * HOUR;
/** Two sets are held against each other for five minutes (proposed). */
const within = (rule: string, first: readonly object[], second: readonly object[]): Threshold => ({
  ...{ rule, of: 'window', speaks: [4, 5], silent: [6] },
  story: (minutes) => apart(minutes, first, second),
});
/** A day (proposed), for change. */
const WITHIN_A_DAY = { speaks: [DAY], silent: [DAY + 1] };

/** Of two limbs, sites and methods: AAMI/ESH/ISO 2018, Edmonds 2002, NICE NG136, ESC/ESH 2018, Pecoraro 2021. */
const CROSS_CHECKS: readonly Threshold[] = [
  {
    ...{ rule: 'blood-pressure-methods-differ', of: 'systolic' },
    ...{ speaks: [11, 25], silent: [10, 26] },
    story: (by) => together(byEar(120), byCuff(120 + by)),
  },
  {
    ...{ rule: 'blood-pressure-methods-differ', of: 'diastolic' },
    ...{ speaks: [11, 20], silent: [10, 21] },
    story: (by) => together(byEar(130), byCuff(130, 80 - by)),
  },
  {
    ...{ rule: 'blood-pressure-methods-disagree', of: 'systolic', speaks: [26], silent: [25] },
    story: (by) => together(byEar(120), byCuff(120 + by)),
  },
  {
    ...{ rule: 'blood-pressure-methods-disagree', of: 'diastolic', speaks: [21], silent: [20] },
    story: (by) => together(byEar(130), byCuff(130, 80 - by)),
  },
  within('blood-pressure-methods-disagree', [byEar(120)], [byCuff(160)]),
  {
    ...{ rule: 'pulse-methods-differ', of: 'difference', speaks: [11, 20], silent: [10, 21] },
    story: (by) => together(pulse('palpation', 80), pulse('pulse-oximetry', 80 + by)),
  },
  {
    ...{ rule: 'pulse-methods-disagree', of: 'difference', speaks: [21], silent: [20] },
    story: (by) => together(pulse('palpation', 80), pulse('pulse-oximetry', 80 + by)),
  },
  {
    ...{ rule: 'pulse-methods-disagree', of: 'half of 20', speaks: [9, 11], silent: [8, 12] },
    story: (value) => together(pulse('palpation', value), pulse('pulse-oximetry', 20)),
  },
  {
    ...{ rule: 'pulse-methods-disagree', of: 'twice 10', speaks: [19, 21], silent: [18, 22] },
    story: (value) => together(pulse('palpation', value), pulse('pulse-oximetry', 10)),
  },
  within('pulse-methods-disagree', [pulse('palpation', 70)], [pulse('pulse-oximetry', 110)]),
  {
    ...{ rule: 'blood-pressure-arms-differ', of: 'systolic', speaks: [16], silent: [15] },
    story: (by) =>
      together(byCuff(120, 80, { side: 'left' }), byCuff(120 + by, 80, { side: 'right' })),
  },
  within(
    'blood-pressure-arms-differ',
    [byCuff(120, 80, { side: 'left' })],
    [byCuff(140, 80, { side: 'right' })],
  ),
  {
    ...{ rule: 'blood-pressure-repeats-differ', of: 'difference', speaks: [11], silent: [10] },
    story: (by) => apart(1, [byCuff(120, 70)], [byCuff(120, 70 + by)]),
  },
  within('blood-pressure-repeats-differ', [byCuff(120)], [byCuff(134)]),
  {
    ...{ rule: 'temperature-sites-differ', of: 'difference' },
    ...{ speaks: [0.7, 2], silent: [0.6, 2.1] },
    story: (by) =>
      together(warmth('oral', 36.5), warmth('tympanic', Number((36.5 + by).toFixed(1)))),
  },
  {
    ...{ rule: 'temperature-sites-disagree', of: 'difference', speaks: [2.1], silent: [2] },
    story: (by) =>
      together(warmth('oral', 36.5), warmth('tympanic', Number((36.5 + by).toFixed(1)))),
  },
  within('temperature-sites-disagree', [warmth('oral', 36.5)], [warmth('axillary', 39)]),
  {
    ...{ rule: 'respiratory-rate-methods-differ', of: 'difference', speaks: [7], silent: [6] },
    story: (by) => together(breaths('counted', 14), breaths('impedance', 14 + by)),
  },
  within('respiratory-rate-methods-differ', [breaths('counted', 14)], [breaths('capnography', 24)]),
  {
    ...{ rule: 'respiratory-rate-above-pulse', of: 'difference', speaks: [1], silent: [0] },
    story: (by) => together(breaths('counted', 48 + by), pulse('palpation', 48)),
  },
  {
    ...{ rule: 'heart-rate-pulse-differ', of: 'difference', speaks: [11], silent: [10] },
    story: (by) => together(pulse('palpation', 70), pulse('electrocardiography', 70 + by)),
  },
  within('heart-rate-pulse-differ', [pulse('palpation', 70)], [pulse('electrocardiography', 90)]),
  {
    // Rajkumar 2019: above ten.
    ...{ rule: 'pulse-deficit-possible', of: 'deficit', speaks: [11], silent: [10, -11] },
    story: (by) =>
      together(pulse('auscultation', 80 + by, { site: 'apex' }), pulse('palpation', 80)),
  },
  within(
    'pulse-deficit-possible',
    [pulse('auscultation', 99, { site: 'apex' })],
    [pulse('palpation', 80)],
  ),
  {
    // NEWS2 Chart 1: 96 and more have no points.
    ...{ rule: 'saturation-low-on-oxygen', of: 'saturation', speaks: [95], silent: [96] },
    story: (value) => together(saturation(value), flow(2)),
  },
  within('saturation-low-on-oxygen', [flow(2)], [saturation(93)]),
  {
    ...{ rule: 'inspired-oxygen-without-flow', of: 'inspired', speaks: [23], silent: [22, 21] },
    story: (value) => together(inspired(value), flow(0)),
  },
  within('irregular-by-cuff-only', [pulse('palpation', 80, { regular: false })], [byCuff(120)]),
  {
    ...{ rule: 'position-changed', of: 'window', speaks: [30], silent: [31] },
    story: (minutes) =>
      apart(
        minutes,
        [byCuff(120, 80, { position: 'supine' })],
        [byCuff(120, 80, { position: 'standing' })],
      ),
  },
];

/** Support for a doubtful value: the tolerances of the cross-checks (proposed). */
const LIFTING: readonly Threshold[] = [
  {
    ...{ rule: 'value-corroborated', of: 'pressure', speaks: [10], silent: [11] },
    story: (by) => together(byCuff(255, 140), byEar(255 - by, 140)),
  },
  {
    ...{ rule: 'value-corroborated', of: 'pulse', speaks: [10], silent: [11] },
    story: (by) => together(pulse('electrocardiography', 255), pulse('palpation', 255 - by)),
  },
  {
    ...{ rule: 'value-corroborated', of: 'breathing', speaks: [6], silent: [7] },
    story: (by) => together(breaths('impedance', 72), breaths('counted', 72 - by)),
  },
  {
    ...{ rule: 'value-corroborated', of: 'temperature', speaks: [0.6], silent: [0.7] },
    story: (by) =>
      together(
        ...[25.9, 25.9 + by].map((value, at) =>
          warmth('core', Number(value.toFixed(1)), {
            device: { identifier: { system: 'urn:example:device', value: `TH-${at}` } },
          }),
        ),
      ),
  },
  within('value-corroborated', [pulse('palpation', 24)], [pulse('electrocardiography', 24)]),
  within('resolved-by-repeat', [byEar(120), byCuff(160)], [byCuff(122)]),
];

/** PMC7015776, Table 1: pulse pressure by systolic; wide and fraction of the mean: proposed, Grillo 2020. */
const RELATIONS: readonly Threshold[] = [
  ...(
    [
      [99, 10],
      [100, 15],
      [150, 15],
      [151, 30],
      [200, 30],
      [201, 50],
    ] as const
  ).map(([systolic, least]) => ({
    ...{ rule: 'pulse-pressure-narrow', of: `systolic ${systolic}` },
    ...{ speaks: [least - 1], silent: [least] },
    story: (by: number) => together(byCuff(systolic, systolic - by)),
  })),
  {
    ...{ rule: 'pulse-pressure-wide', of: 'pulse pressure', speaks: [150], silent: [149] },
    story: (by) => together(byCuff(60 + by, 60)),
  },
  {
    ...{ rule: 'mean-fraction-unusual', of: 'mean of 160/60' },
    ...{ speaks: [79, 121], silent: [80, 120] },
    story: (mean) => together(byCuff(160, 60, { mean })),
  },
];

/** Units (proposed; a newborn's pressure as in Versmold 1981 is none). */
const UNITS: readonly Threshold[] = [
  {
    ...{ rule: 'fahrenheit-suspected', of: 'celsius', speaks: [50, 120], silent: [49.9, 120.1] },
    story: (value) => together(warmth('oral', value)),
  },
  {
    ...{ rule: 'celsius-suspected', of: 'fahrenheit', speaks: [20, 49.9], silent: [19.9, 50] },
    story: (value) => together(reading('body-temperature', '[degF]', value)),
  },
  {
    ...{ rule: 'fraction-suspected', of: 'saturation', speaks: [0.01, 1], silent: [0, 2] },
    story: (value) => together(saturation(value)),
  },
  {
    ...{ rule: 'kilopascal-suspected', of: 'systolic', speaks: [5, 35], silent: [4, 36] },
    story: (value) => together(byCuff(value, 3)),
  },
  {
    ...{ rule: 'kilopascal-suspected', of: 'diastolic', speaks: [3, 20], silent: [2, 21] },
    story: (value) => together(byCuff(30, value)),
  },
];

/** Change against the own value before: proposed, no published limit is known; IDSA 2008 for old age. */
const CHANGE: readonly Threshold[] = [
  {
    ...{ rule: 'blood-pressure-changed', of: 'systolic', speaks: [41], silent: [40] },
    story: (by) => apart(HOUR, [byCuff(100, 70)], [byCuff(100 + by, 70)]),
  },
  {
    ...{ rule: 'blood-pressure-changed', of: 'diastolic', speaks: [26], silent: [25] },
    story: (by) => apart(HOUR, [byCuff(150, 70)], [byCuff(150, 70 + by)]),
  },
  {
    ...{ rule: 'blood-pressure-changed', of: 'window', ...WITHIN_A_DAY },
    story: (minutes) => apart(minutes, [byCuff(120)], [byCuff(170)]),
  },
  {
    ...{ rule: 'pulse-rate-changed', of: 'difference', speaks: [41], silent: [40] },
    story: (by) => apart(HOUR, [pulse('palpation', 60)], [pulse('palpation', 60 + by)]),
  },
  {
    ...{ rule: 'respiratory-rate-changed', of: 'difference', speaks: [11], silent: [10] },
    story: (by) => apart(HOUR, [breaths('counted', 12)], [breaths('counted', 12 + by)]),
  },
  {
    ...{ rule: 'oxygen-saturation-fallen', of: 'fall', speaks: [5], silent: [4, -5] },
    story: (by) => apart(HOUR, [saturation(95)], [saturation(95 - by)]),
  },
  {
    ...{ rule: 'body-temperature-changed', of: 'tenths in 2 h', speaks: [16], silent: [15] },
    story: (by) => apart(2 * HOUR, [warmth('ear', 36.5)], [warmth('ear', (365 + by) / 10)]),
  },
  {
    ...{ rule: 'body-temperature-changed', of: 'tenths in a day', speaks: [26], silent: [25] },
    story: (by) => apart(DAY, [warmth('ear', 36.5)], [warmth('ear', (365 + by) / 10)]),
  },
  {
    ...{ rule: 'body-temperature-changed', of: 'window', ...WITHIN_A_DAY },
    story: (minutes) => apart(minutes, [warmth('ear', 36.2)], [warmth('ear', 39.4)]),
  },
  {
    ...{ rule: 'body-weight-changed', of: 'from 80 kg' },
    ...{ speaks: [71.9, 88.1], silent: [72, 88] },
    story: (value) => apart(DAY, [weight(80)], [weight(value)]),
  },
  {
    ...{ rule: 'body-weight-changed', of: 'window', speaks: [7 * DAY], silent: [7 * DAY + 1] },
    story: (minutes) => apart(minutes, [weight(80)], [weight(60)]),
  },
  {
    ...{ rule: 'pound-suspected', of: 'from 50 kg', speaks: [105, 115], silent: [104.9, 115.1] },
    story: (value) => apart(DAY, [weight(50)], [weight(value)]),
  },
  {
    ...{ rule: 'pound-suspected', of: 'from 100 kg', speaks: [43, 48], silent: [42.9, 48.1] },
    story: (value) => apart(DAY, [weight(100)], [weight(value)]),
  },
  {
    ...{ rule: 'fever-in-old-age', of: 'oral', speaks: [37.9], silent: [37.8] },
    story: (value) => together(warmth('oral', value)),
    birthDate: '1940-05-05',
  },
  {
    ...{ rule: 'fever-in-old-age', of: 'rectal', speaks: [37.6], silent: [37.5] },
    story: (value) => together(warmth('rectal', value)),
    birthDate: '1940-05-05',
  },
  {
    ...{ rule: 'fever-in-old-age', of: 'oral, repeated', speaks: [37.3], silent: [37.2] },
    story: (value) => apart(6 * HOUR, [warmth('oral', 37.4)], [warmth('oral', value)]),
    birthDate: '1940-05-05',
  },
  {
    ...{ rule: 'fever-in-old-age', of: 'over the own median', speaks: [37.4], silent: [37.3] },
    story: (value) => [
      ...Array.from({ length: 8 }, (_, day) => [day * 6 * HOUR, [warmth('ear', 36.2)]] as const),
      [60 * HOUR, [warmth('ear', value)]],
    ],
    birthDate: '1940-05-05',
  },
];

/** AHA 2005 and 2019: arm in cm by cuff; pressure to inflate to; University of Virginia: drinks in minutes. */
const CIRCUMSTANCES: readonly Threshold[] = [
  ...(
    [
      ['child', null, 21],
      ['small-adult', 22, 26],
      ['adult', 27, 34],
      ['large-adult', 35, 44],
      ['thigh', 45, 52],
    ] as const
  ).flatMap(([cuffSize, least, most]) => {
    const story = (armCircumferenceCm: number) =>
      together(byCuff(120, 80, { cuffSize, armCircumferenceCm }));
    const small = { rule: 'cuff-too-small', of: cuffSize, speaks: [most + 1], silent: [most] };
    if (least === null) return [{ ...small, story }];
    const large = { rule: 'cuff-too-large', of: cuffSize, speaks: [least - 1], silent: [least] };
    return [
      { ...small, story },
      { ...large, story },
    ];
  }),
  {
    ...{ rule: 'inflation-too-low', of: 'above the systolic', speaks: [19], silent: [20] },
    story: (by) => together(byEar(120, 80, { inflatedTo: 120 + by })),
  },
  {
    ...{ rule: 'drink-before-oral', of: 'cold', speaks: [14], silent: [15] },
    story: (minutesSinceColdDrink) => together(warmth('oral', 36.8, { minutesSinceColdDrink })),
  },
  {
    ...{ rule: 'drink-before-oral', of: 'hot', speaks: [24], silent: [25] },
    story: (minutesSinceHotDrink) => together(warmth('oral', 36.8, { minutesSinceHotDrink })),
  },
  {
    ...{ rule: 'breath-count-short', of: 'adult, seconds', speaks: [15], silent: [30, 60] },
    story: (seconds) => together({ vital: 'respiratory-rate', count: 4, seconds }),
  },
  {
    ...{ rule: 'breath-count-short', of: 'child, seconds', speaks: [15, 30], silent: [60] },
    story: (seconds) => together({ vital: 'respiratory-rate', count: 9, seconds }),
    birthDate: '2023-01-01',
  },
  {
    ...{ rule: 'irregular-count-short', of: 'seconds', speaks: [15, 30], silent: [60] },
    story: (seconds) =>
      together({
        ...{ vital: 'pulse-rate', method: 'palpation', regular: false },
        ...{ count: 20, seconds },
      }),
  },
];

const SIX = [breaths('counted', 15), pulse('palpation', 70), byCuff(124), warmth('ear', 36.9)];
const delayed = { arrivesAfterMin: (minutes: number) => minutes };

/** Repeats and clocks: proposed; MD PnP 2012 on clocks of devices. */
const QUALITY: readonly Threshold[] = [
  {
    ...{ rule: 'set-unchanged', of: 'minutes after' },
    ...{ speaks: [31, DAY], silent: [30, DAY + 1] },
    story: (minutes) => apart(minutes, [...SIX, saturation(97)], [...SIX, saturation(97)]),
  },
  {
    ...{ rule: 'set-unchanged', of: 'numbers', speaks: [1], silent: [0] },
    story: (more) => {
      const readings = [...SIX, ...(more === 1 ? [saturation(97)] : [])];
      return apart(HOUR, readings, readings);
    },
  },
  {
    ...{ rule: 'odd-last-digit', of: 'systolic', speaks: [121, 119], silent: [120] },
    story: (value) => together(byEar(value)),
  },
  {
    ...{ rule: 'time-in-future', of: 'minutes ahead', speaks: [6], silent: [5] },
    story: () => together(saturation(97)),
    arrivesAfterMin: (minutes) => -minutes,
  },
  {
    ...{ rule: 'device-clock-hours-off', of: 'delay in minutes', ...delayed },
    ...{ speaks: [58, 62, -60, 14 * HOUR], silent: [57, 63, 2, 15 * HOUR] },
    story: () => together(saturation(97)),
  },
];

export const THRESHOLDS: readonly Threshold[] = [
  ...CROSS_CHECKS,
  ...LIFTING,
  ...RELATIONS,
  ...UNITS,
  ...CHANGE,
  ...CIRCUMSTANCES,
  ...QUALITY,
];
