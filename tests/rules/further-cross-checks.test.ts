import type { JudgingContext, Reading } from '../../src/vitals/shapes.js';
import { buildLimits } from '../../src/vitals/limits.js';
import { PROPOSED } from '../../src/vitals/limits-sources.js';
import {
  contextOf,
  cuffPressure,
  kept,
  linePressure,
  manualPressure,
  minutesFromNoon,
  oximeterPulse,
  palpatedPulse,
  reading,
  respiratoryRate,
  saturation,
  temperature,
} from './build-context.js';
import { findingsOf, judge } from './judge.js';

const left = { side: 'left' } as const;
const right = { side: 'right' } as const;

/** Whether a rule speaks about two readings, in whichever order they stand. */
function speaksOf(rule: string, a: Reading, b: Reading): boolean {
  const [one, other] = [
    [a, b],
    [b, a],
  ].map((set) => findingsOf(rule, contextOf(set)).length > 0);
  expect(one).toBe(other);
  return one === true;
}

/** The same two, the first of them kept before: what is told to a check hides its numbers. */
function discreetly(rule: string, before: Reading, now: Reading): string {
  const earlier = kept({ ...before, takenAt: minutesFromNoon(-3) });
  const [finding] = findingsOf(rule, contextOf([now], { earlier: [earlier] }));
  expect(finding).toMatchObject({ readings: [0], earlier: [earlier.readingId] });
  expect(finding?.message).toContain('11:57');
  return finding?.discreetMessage ?? 'nothing is hidden';
}

/** NICE NG136 1.2.1 (secondary copy): more than 15 mmHg between the arms is worth a repeat on both. */
describe('blood-pressure-arms-differ', () => {
  const differ = (a: Reading, b: Reading) => speaksOf('blood-pressure-arms-differ', a, b);

  it.each([
    [15, false],
    [16, true],
  ])('systolic %i apart', (apart, noted) => {
    expect(differ(manualPressure([134, 80], left), manualPressure([134 + apart, 80], right))).toBe(
      noted,
    );
  });

  it('is a note, with the advice to go on with the higher arm', () => {
    const context = contextOf([manualPressure([128, 80], left), manualPressure([146, 84], right)]);
    const [finding] = findingsOf('blood-pressure-arms-differ', context);
    expect(finding).toMatchObject({
      verdict: 'noted',
      readings: [0, 1],
      figures: { difference: 18, limit: 15, unit: 'mm[Hg]' },
      source: expect.stringContaining('NG136, Hypertension in adults, 1.2.1') as string,
    });
    expect(finding?.advice).toMatch(/repeat/i);
    expect(finding?.advice).toMatch(/higher/);
  });

  it.each([
    ['the same arm', manualPressure([120, 80], left), manualPressure([150, 80], left)],
    ['a side that is not told', manualPressure([120, 80], left), manualPressure([150, 80])],
    ['an arterial line', linePressure([120, 80], left), manualPressure([150, 80], right)],
    ['the diastolic alone', manualPressure([130, 70], left), manualPressure([130, 90], right)],
    [
      'another position',
      manualPressure([120, 80], { ...left, position: 'supine' }),
      manualPressure([150, 80], { ...right, position: 'standing' }),
    ],
    [
      'more than five minutes',
      manualPressure([120, 80], left),
      manualPressure([150, 80], { ...right, takenAt: minutesFromNoon(5.001) }),
    ],
  ])('does not speak of %s', (_name, a, b) => {
    expect(differ(a, b)).toBe(false);
  });

  it('names the arm measured before', () => {
    const before = manualPressure([118, 76], left);
    expect(
      discreetly('blood-pressure-arms-differ', before, manualPressure([150, 84], right)),
    ).not.toMatch(/118|76/);
  });
});

/** ESC/ESH 2018 (secondary copy): another reading where the first two are more than 10 mmHg apart. */
describe('blood-pressure-repeats-differ', () => {
  const differ = (a: Reading, b: Reading) => speaksOf('blood-pressure-repeats-differ', a, b);

  it.each([
    [10, 0, false],
    [11, 0, true],
    [0, 10, false],
    [0, 11, true],
  ])('%i systolic and %i diastolic apart', (systolic, diastolic, noted) => {
    expect(
      differ(
        manualPressure([144, 88], left),
        manualPressure([144 + systolic, 88 + diastolic], left),
      ),
    ).toBe(noted);
  });

  it.each([
    ['another method', manualPressure([130, 80]), cuffPressure([145, 80])],
    ['the other arm', manualPressure([130, 80], left), manualPressure([145, 80], right)],
    ['an arterial line', linePressure([130, 80]), linePressure([150, 80])],
  ])('does not speak of %s', (_name, a, b) => {
    expect(differ(a, b)).toBe(false);
  });

  it('is a note that asks for another reading', () => {
    const context = contextOf([cuffPressure([130, 80]), cuffPressure([145, 80])]);
    expect(judge(context).verdict).toBe('noted');
    expect(findingsOf('blood-pressure-repeats-differ', context)[0]?.advice).toMatch(
      /another reading/,
    );
  });

  it('names the one sent before', () => {
    expect(
      discreetly('blood-pressure-repeats-differ', cuffPressure([117, 73]), cuffPressure([149, 81])),
    ).not.toMatch(/117|73/);
  });
});

/**
 * Pecoraro 2021: coefficients of reproducibility of peripheral sites of 0.53 to 1.2 degrees, differences
 * "in the order of 2 °C". Noted from 0.7, held above 2.0 (proposed on those grounds).
 */
describe('temperature-sites-differ and temperature-sites-disagree', () => {
  const ear = (value: number | string) => temperature(value, { site: 'tympanic' });
  const verdicts = (a: Reading, b: Reading) => {
    const context = contextOf([a, b]);
    return ['temperature-sites-differ', 'temperature-sites-disagree'].flatMap((rule) =>
      findingsOf(rule, context).map(({ verdict }) => verdict),
    );
  };

  it.each([
    [37.6, []],
    [37.7, ['noted']],
    [39, ['noted']],
    [39.1, ['held']],
    [35, ['noted']],
    [34.9, ['held']],
  ])('37.0 in the mouth, %f in the ear', (value, expected) => {
    expect(verdicts(temperature('37.0'), ear(value))).toEqual(expected);
    expect(verdicts(ear(value), temperature('37.0'))).toEqual(expected);
  });

  it('converts neither site: the difference is told as it was measured', () => {
    const context = contextOf([temperature(36.4), temperature(37.5, { site: 'rectal' })]);
    const [finding] = findingsOf('temperature-sites-differ', context);
    expect(finding?.figures).toEqual({ difference: 1.1, limit: 0.6, unit: 'Cel' });
    expect(finding?.message).toContain('36.4 °C');
    expect(finding?.message).toContain('37.5 °C');
    expect(finding?.advice).toMatch(/not convert/);
  });

  it.each([
    ['the same site', temperature(36.2), temperature(39.4)],
    ['a site that is not told', temperature(36.2), temperature(39.4, { site: null })],
  ])('does not speak of %s', (_name, a, b) => {
    expect(verdicts(a, b)).toEqual([]);
  });

  it('publishes both sides at once where one is critical', () => {
    const judged = judge(contextOf([temperature(36.8), ear(40.2)]));
    expect(judged.readings.map(({ verdict, status }) => [verdict, status])).toEqual([
      ['held', 'preliminary'],
      ['held', 'preliminary'],
    ]);
  });

  it('names the one sent before', () => {
    expect(discreetly('temperature-sites-disagree', temperature(35.3), ear(38.8))).not.toMatch(
      /35|38/,
    );
  });
});

/** Edmonds 2002: two observers of breathing differ by up to 6.2 /min (95 % limits). Notes only. */
describe('respiratory-rate-methods-differ', () => {
  const byDevice = (value: number, method: 'impedance' | 'capnography' | 'pulse-oximetry') =>
    reading('respiratory-rate', { value }, { method });

  it.each([
    [24, 'impedance', false],
    [25, 'impedance', true],
    [11, 'capnography', true],
    [40, 'pulse-oximetry', true],
  ] as const)('counted 18, %i by %s', (value, method, noted) => {
    expect(
      speaksOf('respiratory-rate-methods-differ', respiratoryRate(18), byDevice(value, method)),
    ).toBe(noted);
  });

  it('never holds, however far apart', () => {
    const context = contextOf([respiratoryRate(14), byDevice(52, 'impedance')]);
    expect(findingsOf('respiratory-rate-methods-differ', context)).toMatchObject([
      { verdict: 'noted', figures: { difference: 38, limit: 6, unit: '/min' } },
    ]);
  });

  it('does not hold two devices against each other', () => {
    expect(
      speaksOf(
        'respiratory-rate-methods-differ',
        byDevice(12, 'impedance'),
        byDevice(30, 'capnography'),
      ),
    ).toBe(false);
  });

  it('names the one sent before', () => {
    expect(
      discreetly('respiratory-rate-methods-differ', respiratoryRate(13), byDevice(26, 'impedance')),
    ).not.toMatch(/13/);
  });
});

/** Proposed: nobody breathes more often than the heart beats, so the two fields may be swapped. */
describe('respiratory-rate-above-pulse', () => {
  it.each([
    [64, 64, false],
    [65, 64, true],
  ])('%i breaths and %i beats', (breaths, beats, held) => {
    expect(
      speaksOf('respiratory-rate-above-pulse', respiratoryRate(breaths), palpatedPulse(beats)),
    ).toBe(held);
  });

  it('holds both and says why', () => {
    const context = contextOf([respiratoryRate(74), palpatedPulse(18)]);
    const judged = judge(context);
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['held', 'held']);
    expect(findingsOf('respiratory-rate-above-pulse', context)[0]?.message).toContain('swapped');
  });

  it('is lifted where a person measured both again, and not where only one', () => {
    const confirmed = { context: { confirmed: true } };
    const both = contextOf([respiratoryRate(44, confirmed), palpatedPulse(42, confirmed)]);
    expect(findingsOf('respiratory-rate-above-pulse', both)[0]).toMatchObject({
      verdict: 'noted',
      figures: { liftedBy: 'value-confirmed' },
    });
    const one = contextOf([respiratoryRate(44, confirmed), palpatedPulse(42)]);
    expect(findingsOf('respiratory-rate-above-pulse', one)[0]?.verdict).toBe('held');
  });

  it('looks into one set only: fields are not swapped from one to another', () => {
    const earlier = [kept(palpatedPulse(18, { takenAt: minutesFromNoon(-1) }))];
    expect(
      findingsOf('respiratory-rate-above-pulse', contextOf([respiratoryRate(40)], { earlier })),
    ).toEqual([]);
  });
});

/** Edmonds 2002, as for palpated and oximeter pulse: up to 10 /min agrees. Common practice, no source: never a hold. */
describe('heart-rate-pulse-differ', () => {
  const byTrace = (value: number) =>
    reading('pulse-rate', { value }, { method: 'electrocardiography' });

  it.each([
    [88, false],
    [89, true],
    [67, true],
  ])('palpated 78, electrocardiogram %i', (value, noted) => {
    expect(speaksOf('heart-rate-pulse-differ', palpatedPulse(78), byTrace(value))).toBe(noted);
  });

  it('is a note and no deficit', () => {
    const judged = judge(contextOf([palpatedPulse(66), byTrace(112)]));
    expect(judged.verdict).toBe('noted');
    expect(JSON.stringify(judged.findings)).not.toMatch(/deficit/i);
  });

  it('names the one sent before', () => {
    expect(discreetly('heart-rate-pulse-differ', palpatedPulse(61), byTrace(97))).not.toMatch(/61/);
  });
});

/** Rajkumar 2019: apex less radial, each counted for 60 s, more than 10 /min. */
describe('pulse-deficit-possible', () => {
  const atApex = (value: number) =>
    reading('pulse-rate', { value }, { method: 'auscultation', site: 'apex' });
  const possible = (a: Reading, b: Reading) => speaksOf('pulse-deficit-possible', a, b);

  it.each([
    [86, false],
    [87, true],
    [60, false],
  ])('felt 76, heard %i at the apex', (heard, noted) => {
    expect(possible(palpatedPulse(76), atApex(heard))).toBe(noted);
  });

  it.each([
    ['an oximeter', oximeterPulse(76), atApex(104)],
    ['another artery', palpatedPulse(76, { site: 'femoral-artery' }), atApex(104)],
    ['the apex felt', palpatedPulse(76, { site: 'apex' }), atApex(104)],
    [
      'an electrocardiogram',
      palpatedPulse(76),
      reading('pulse-rate', { value: 104 }, { method: 'electrocardiography' }),
    ],
  ])('is not said of %s', (_name, a, b) => {
    expect(possible(a, b)).toBe(false);
  });

  it('is a possibility, with the advice to count both for the same 60 s', () => {
    const [finding] = findingsOf(
      'pulse-deficit-possible',
      contextOf([palpatedPulse(76), atApex(98)]),
    );
    expect(finding).toMatchObject({ verdict: 'noted', figures: { difference: 22, limit: 10 } });
    expect(finding?.message).toContain('possible');
    expect(finding?.advice).toContain('60 s');
  });

  it('names the one sent before', () => {
    expect(discreetly('pulse-deficit-possible', palpatedPulse(63), atApex(97))).not.toMatch(/63/);
  });
});

const flow = (value: number) => reading('oxygen-flow', { value });
const inspired = (value: number) => reading('inspired-oxygen', { value });

/** NEWS2 Chart 1: the band without points begins at 96 %, and oxygen given is scored apart from it. */
describe('saturation-low-on-oxygen', () => {
  const spoken = (context: JudgingContext) =>
    findingsOf('saturation-low-on-oxygen', context).map(({ readings }) => readings);

  it.each([
    [95, flow(2), [[0]]],
    [96, flow(2), []],
    [90, flow(0), []],
    [90, inspired(28), [[0]]],
    [90, inspired(22), []],
    [90, inspired(22.1), [[0]]],
    [90, inspired(21), []],
  ])('%i %% with case %#', (value, oxygen, expected) => {
    expect(spoken(contextOf([saturation(value), oxygen]))).toEqual(expected);
    expect(spoken(contextOf([oxygen, saturation(value)])).flat()).toEqual(
      expected.flat().map(() => 1),
    );
  });

  it('notes the saturation and leaves the oxygen alone', () => {
    const judged = judge(contextOf([saturation(93), flow(4)]));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['noted', 'accepted']);
    expect(judged.findings[0]?.message).toContain('4 L/min');
  });

  it('knows of oxygen sent before', () => {
    expect(discreetly('saturation-low-on-oxygen', flow(7), saturation(92))).not.toMatch(/7/);
  });
});

/** Dry air has 20.9 % of oxygen; 22 leaves room for rounding (proposed). */
describe('inspired-oxygen-without-flow', () => {
  it.each([
    [22, 0, false],
    [23, 0, true],
    [40, 0.5, false],
  ])('%f %% inspired at %f L/min', (percent, litres, noted) => {
    expect(speaksOf('inspired-oxygen-without-flow', inspired(percent), flow(litres))).toBe(noted);
  });

  it('looks into one set only: the oxygen may have been changed since', () => {
    const earlier = [kept({ ...flow(0), takenAt: minutesFromNoon(-2) })];
    expect(
      findingsOf('inspired-oxygen-without-flow', contextOf([inspired(35)], { earlier })),
    ).toEqual([]);
  });
});

/** A tolerance in relative terms can only narrow the absolute one, which stays its cap. */
describe('a tolerance that a site gives in relative terms', () => {
  const share = (at: number) =>
    buildLimits({
      'blood-pressure-arms-differ.share': {
        at,
        source: { ...PROPOSED, document: 'Ward protocol', standing: 'site' },
      },
    });
  const arms = (low: number, high: number, at: number) =>
    findingsOf('blood-pressure-arms-differ', {
      ...contextOf([manualPressure([low, 60], left), manualPressure([high, 60], right)]),
      limits: share(at),
    });

  it.each([
    [90, 100, 0.1, false],
    [89, 100, 0.1, true],
    [184, 200, 0.1, true],
    [185, 200, 0.1, false],
    [85, 100, 1, false],
  ])('%i and %i at %f', (low, high, at, noted) => {
    expect(arms(low, high, at)).toHaveLength(noted ? 1 : 0);
  });

  it('is told with its limit and its source', () => {
    expect(arms(86, 100, 0.1)[0]).toMatchObject({
      figures: { difference: 14, limit: 10 },
      source: expect.stringContaining('Ward protocol') as string,
    });
  });
});
