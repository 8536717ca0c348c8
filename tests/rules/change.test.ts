import { buildLimits, DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { PastReading, Reading } from '../../src/vitals/shapes.js';
import { median, robustDeviation } from '../../src/rules/own-values.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  manualPressure,
  oximeterPulse,
  palpatedPulse,
  past,
  reading,
  respiratoryRate,
  saturation,
  temperature,
} from './build-context.js';
import { findingsOf, judge } from './judge.js';

const HOUR = 60;
const DAY = 24 * HOUR;

/** Whether a rule speaks about a reading after these. */
const speaks = (rule: string, now: Reading, history: readonly PastReading[]): boolean =>
  findingsOf(rule, contextOf([now], { history })).length > 0;

/** So many values of the same kind, one an hour, the last one an hour ago. */
const hourly = (of: (value: number) => Reading, values: readonly number[]): PastReading[] =>
  values.map((value, index) => past(of(value), (values.length - index) * HOUR));

const weight = (kilograms: number): Reading => reading('body-weight', { value: kilograms });

/**
 * No limit for change between ward readings is published (Churpek 2016 and Brekke 2019 looked): the fixed
 * limits are proposed, so these tests hold them where they are and no more.
 */
describe('blood-pressure-changed, pulse-rate-changed, respiratory-rate-changed, oxygen-saturation-fallen and body-temperature-changed', () => {
  it.each([
    ['blood-pressure-changed', cuffPressure([120, 80]), cuffPressure([160, 80]), false],
    ['blood-pressure-changed', cuffPressure([120, 80]), cuffPressure([161, 80]), true],
    ['blood-pressure-changed', cuffPressure([160, 80]), cuffPressure([119, 80]), true],
    ['blood-pressure-changed', cuffPressure([140, 95]), cuffPressure([140, 70]), false],
    ['blood-pressure-changed', cuffPressure([140, 96]), cuffPressure([140, 70]), true],
    ['pulse-rate-changed', palpatedPulse(70), palpatedPulse(110), false],
    ['pulse-rate-changed', palpatedPulse(70), palpatedPulse(111), true],
    ['respiratory-rate-changed', respiratoryRate(12), respiratoryRate(22), false],
    ['respiratory-rate-changed', respiratoryRate(12), respiratoryRate(23), true],
    ['oxygen-saturation-fallen', saturation(97), saturation(93), false],
    ['oxygen-saturation-fallen', saturation(97), saturation(92), true],
    ['oxygen-saturation-fallen', saturation(90), saturation(99), false],
    ['body-temperature-changed', temperature(36.5), temperature(38.0), false],
    ['body-temperature-changed', temperature(36.5), temperature(38.1), true],
  ] as const)('%s case %#', (rule, before, now, spoken) => {
    expect(speaks(rule, now, [past(before, 60)])).toBe(spoken);
  });

  it('body-temperature-changed gives more room after two hours, and none after a day', () => {
    const before = temperature(36.5);
    expect(speaks('body-temperature-changed', temperature(38.1), [past(before, 120)])).toBe(true);
    expect(speaks('body-temperature-changed', temperature(38.1), [past(before, 121)])).toBe(false);
    expect(speaks('body-temperature-changed', temperature('39.0'), [past(before, DAY)])).toBe(
      false,
    );
    expect(speaks('body-temperature-changed', temperature(39.1), [past(before, DAY)])).toBe(true);
    expect(speaks('body-temperature-changed', temperature(39.1), [past(before, DAY + 1)])).toBe(
      false,
    );
  });

  it('looks a day back', () => {
    const before = palpatedPulse(60);
    expect(speaks('pulse-rate-changed', palpatedPulse(120), [past(before, DAY)])).toBe(true);
    expect(speaks('pulse-rate-changed', palpatedPulse(120), [past(before, DAY + 1)])).toBe(false);
  });

  it('compares with the newest', () => {
    const history = [past(palpatedPulse(60), 120), past(palpatedPulse(95), 60)];
    expect(speaks('pulse-rate-changed', palpatedPulse(120), history)).toBe(false);
  });

  it.each([
    ['another method', oximeterPulse(60)],
    ['another site', palpatedPulse(60, { site: 'carotid-artery' })],
    ['the other side', palpatedPulse(60, { side: 'left' })],
    ['another position', palpatedPulse(60, { position: 'standing' })],
  ])('never across %s', (_name, before) => {
    expect(speaks('pulse-rate-changed', palpatedPulse(120), [past(before, 60)])).toBe(false);
  });

  it.each(['held', 'rejected'] as const)('passes over one that is %s', (verdict) => {
    const history = [past(palpatedPulse(60), 60, { verdict })];
    expect(speaks('pulse-rate-changed', palpatedPulse(120), history)).toBe(false);
  });

  it('passes over one that was taken later', () => {
    expect(speaks('pulse-rate-changed', palpatedPulse(120), [past(palpatedPulse(60), -5)])).toBe(
      false,
    );
  });

  it('is a note with the figures, and tells no earlier value where that is asked', () => {
    const context = contextOf([palpatedPulse(118)], { history: [past(palpatedPulse(71), 90)] });
    const [finding] = findingsOf('pulse-rate-changed', context);
    expect(finding).toMatchObject({
      verdict: 'noted',
      readings: [0],
      message:
        'Pulse rate 118 beats/minute is 47 higher than the patient’s own 71 beats/minute at 10:30; 40 is the limit.',
      figures: { difference: 47, limit: 40, before: 71, unit: '/min' },
    });
    expect(finding?.discreetMessage).not.toMatch(/71|47/);
    expect(judge(context).readings[0]).toMatchObject({ verdict: 'noted', status: 'final' });
  });

  it('says nothing while it is in doubt whose reading it is', () => {
    const history = [past(palpatedPulse(60), 60)];
    const context = contextOf([palpatedPulse(120)], { history, patient: null });
    expect(findingsOf('pulse-rate-changed', context)).toEqual([]);
  });
});

/**
 * The robust standard deviation, 1.4826 x MAD (Rousseeuw and Croux, J Am Stat Assoc 1993;88:1273, from memory: the factor makes it
 * consistent for a normal distribution). Worked: of 1, 1, 2, 2, 4, 6, 9 the median is 2, the distances
 * 1, 1, 0, 0, 2, 4, 7, their median 1 (the example of many textbooks; from memory, unconfirmed).
 */
describe('the spread of the own values', () => {
  it('is that of the worked example', () => {
    expect(median([1, 1, 2, 2, 4, 6, 9])).toBe(2);
    expect(robustDeviation([1, 1, 2, 2, 4, 6, 9])).toBe(1.4826);
    expect(median([4, 1, 3, 2])).toBe(2.5);
  });

  // Median 74, distances 1 1 2 2 3 3 6 6: median 2.5, so the limit is 4 x 1.4826 x 2.5 = 14.8; at least 20.
  const pulses = [68, 71, 72, 73, 75, 76, 77, 80];
  // Median 90, distances 5 5 8 8 12 12 20 20: median 10, so the limit is 59.3.
  const restless = [70, 78, 82, 85, 95, 98, 102, 110];

  it('takes the place of the fixed limit from eight values on', () => {
    const eight = hourly(palpatedPulse, pulses);
    expect(speaks('pulse-rate-changed', palpatedPulse(94), eight)).toBe(false);
    expect(speaks('pulse-rate-changed', palpatedPulse(95), eight)).toBe(true);
    expect(speaks('pulse-rate-changed', palpatedPulse(53), eight)).toBe(true);
    expect(speaks('pulse-rate-changed', palpatedPulse(95), eight.slice(1))).toBe(false);
  });

  it('may be wider than the fixed limit', () => {
    const eight = hourly(palpatedPulse, restless);
    expect(speaks('pulse-rate-changed', palpatedPulse(149), eight)).toBe(false);
    expect(speaks('pulse-rate-changed', palpatedPulse(150), eight)).toBe(true);
    const [finding] = findingsOf(
      'pulse-rate-changed',
      contextOf([palpatedPulse(150)], { history: eight }),
    );
    expect(finding?.figures).toMatchObject({ median: 90, values: 8, limit: 59.3, difference: 60 });
  });

  it('is never nothing: values all alike leave half of the fixed limit', () => {
    const alike = hourly(respiratoryRate, [16, 16, 16, 16, 16, 16, 16, 16]);
    expect(speaks('respiratory-rate-changed', respiratoryRate(21), alike)).toBe(false);
    expect(speaks('respiratory-rate-changed', respiratoryRate(22), alike)).toBe(true);
  });

  it('counts only falls of the saturation', () => {
    const alike = hourly(saturation, [92, 92, 92, 92, 92, 92, 92, 92]);
    expect(speaks('oxygen-saturation-fallen', saturation(99), alike)).toBe(false);
    expect(speaks('oxygen-saturation-fallen', saturation(89), alike)).toBe(true);
  });

  it('goes by the settings of the edition', () => {
    const own = 'blood-pressure-changed.own-values';
    const limits = buildLimits({ [own]: { ...DEFAULT_LIMITS.setting(own), at: 5 } });
    const context = contextOf([palpatedPulse(96)], {
      limits,
      history: hourly(palpatedPulse, pulses.slice(1)),
    });
    expect(findingsOf('pulse-rate-changed', context)).toHaveLength(1);
  });
});

/** 1 lb = 0.45359237 kg (international yard and pound agreement, 1959): the ratio is 2.2046 or 0.4536. */
describe('body-weight-changed and pound-suspected', () => {
  it.each([
    [80, 88, []],
    [80, 88.1, ['body-weight-changed']],
    [80, 71.9, ['body-weight-changed']],
    [100, 45.36, ['pound-suspected']],
    [45.36, 100, ['pound-suspected']],
    [100, 43, ['pound-suspected']],
    [100, 48, ['pound-suspected']],
    [100, 48.1, ['body-weight-changed']],
    [100, 42.9, ['body-weight-changed']],
    [30, 63, ['pound-suspected']],
    [30, 69, ['pound-suspected']],
    [30, 69.1, ['body-weight-changed']],
    [30, 62.9, ['body-weight-changed']],
  ])('%f kg, then %f kg', (before, now, expected) => {
    const context = contextOf([weight(now)], { history: [past(weight(before), 3 * DAY)] });
    const heard = ['body-weight-changed', 'pound-suspected'].filter(
      (rule) => findingsOf(rule, context).length > 0,
    );
    expect(heard).toEqual(expected);
  });

  it('looks a week back', () => {
    expect(speaks('body-weight-changed', weight(90), [past(weight(80), 7 * DAY)])).toBe(true);
    expect(speaks('body-weight-changed', weight(90), [past(weight(80), 7 * DAY + 1)])).toBe(false);
  });

  it('names the day', () => {
    const context = contextOf([weight(99.8)], { history: [past(weight(45.3), DAY)] });
    const [finding] = findingsOf('pound-suspected', context);
    expect(finding?.message).toContain('2026-03-13 at 12:00');
    expect(finding?.discreetMessage).not.toMatch(/45/);
  });
});

/** IDSA 2008, long-term care: single oral > 37.8, repeated oral > 37.2, rectal > 37.5, > 1.1 over baseline. */
describe('fever-in-old-age', () => {
  const old = bornOn('1941-02-02');
  const speaksOf = (now: Reading, history: readonly PastReading[] = [], patient = old): boolean =>
    findingsOf('fever-in-old-age', contextOf([now], { history, patient })).length > 0;
  const axillary = (value: number): Reading => temperature(value, { site: 'axillary' });

  it.each([
    [temperature(37.8), false],
    [temperature(37.9), true],
    [temperature(37.5, { site: 'rectal' }), false],
    [temperature(37.6, { site: 'rectal' }), true],
    [temperature('38.0', { site: 'tympanic' }), false],
    // Above 38.0 the interpretation code is H (NEWS2): nothing to add.
    [temperature('38.0'), true],
    [temperature(38.1), false],
  ])('single reading, case %#', (now, spoken) => {
    expect(speaksOf(now)).toBe(spoken);
  });

  it('speaks of a second oral one in a row', () => {
    expect(speaksOf(temperature(37.3), [past(temperature(37.3), 240)])).toBe(true);
    expect(speaksOf(temperature(37.3), [past(temperature(37.2), 240)])).toBe(false);
    expect(speaksOf(temperature(37.2), [past(temperature(37.9), 240)])).toBe(false);
  });

  it('speaks of a rise over the own median at any site', () => {
    const own = hourly(axillary, [36.0, 36.1, 36.2, 36.2, 36.2, 36.2, 36.3, 36.4]);
    expect(speaksOf(axillary(37.3), own)).toBe(false);
    expect(speaksOf(axillary(37.4), own)).toBe(true);
    expect(speaksOf(axillary(37.4), own.slice(1))).toBe(false);
  });

  it('is asked from 65 years on, and only where the age is known', () => {
    expect(speaksOf(temperature(37.9), [], bornOn('1961-03-14'))).toBe(true);
    expect(speaksOf(temperature(37.9), [], bornOn('1961-03-15'))).toBe(false);
    expect(speaksOf(temperature(37.9), [], bornOn(null))).toBe(false);
  });
});

describe('a pressure by stethoscope', () => {
  it('is not held against one by cuff', () => {
    const history = [past(cuffPressure([110, 70]), 60)];
    expect(speaks('blood-pressure-changed', manualPressure([170, 100]), history)).toBe(false);
  });
});
