/** Changes of a site that make no sense: each is named, at the setting that was changed. */
import fc from 'fast-check';
import { contradictions } from '../../src/vitals/limits-contradictions.js';
import { buildLimits, type SettingChanges } from '../../src/vitals/limits.js';
import { SETTINGS } from '../../src/vitals/settings.js';

const SITE = {
  document: 'Larkfield ward policy',
  section: '3',
  year: 2026,
  standing: 'site',
} as const;

const changing = (numbers: Readonly<Record<string, number>>): SettingChanges =>
  Object.fromEntries(Object.entries(numbers).map(([id, at]) => [id, { at, source: SITE }]));

/** Pointer and words of every fault, as "setting: words". */
const faultsOf = (numbers: Readonly<Record<string, number>>, unsound: readonly string[] = []) =>
  contradictions(buildLimits(changing(numbers)), new Set(unsound)).map(
    ({ pointer, message }) => `${pointer.split('/')[2] ?? ''}: ${message}`,
  );

const PULSE = 'plausible.pulse-rate.value.any';
const ADULT_PULSE = 'band.pulse-rate.value.any.18y-up';

describe('contradictions', () => {
  it.each([
    [
      'a hold bound outside its reject bound',
      { [`${PULSE}.13y-up.holdAbove`]: 360 },
      `${PULSE}.13y-up.holdAbove`,
      'must not be above plausible.pulse-rate.value.any.any.rejectAbove (350 /min)',
    ],
    [
      'a hold bound that reaches between the critical limits, from above',
      { [`${PULSE}.13y-up.holdAbove`]: 120 },
      `${PULSE}.13y-up.holdAbove`,
      'reaches between the critical limits, beyond band.pulse-rate.value.any.18y-up.criticalHigh (131 /min)',
    ],
    [
      'and from below, of a child by the critical limit of its own age',
      { [`${PULSE}.1y-13y.holdBelow`]: 45 },
      `${PULSE}.1y-13y.holdBelow`,
      'beyond band.pulse-rate.value.any.12y-15y.criticalLow (40 /min)',
    ],
    [
      'a critical limit moved out past the hold bound',
      { [`${ADULT_PULSE}.criticalHigh`]: 260 },
      `${ADULT_PULSE}.criticalHigh`,
      'plausible.pulse-rate.value.any.13y-up.holdAbove (250 /min) reaches between the critical limits',
    ],
    [
      'a reject bound that reaches between the critical limits',
      { 'plausible.oxygen-saturation.value.any.any.rejectBelow': 93 },
      'plausible.oxygen-saturation.value.any.any.rejectBelow',
      'beyond band.oxygen-saturation.value.any.18y-up.criticalLow (91 %)',
    ],
    [
      'a reject bound inside the default hold bounds',
      {
        'plausible.body-temperature.value.any.any.rejectAbove': 41.5,
        'plausible.body-temperature.value.any.0-1y.holdAbove': 41,
        'plausible.body-temperature.value.any.1y-13y.holdAbove': 41,
        'plausible.body-temperature.value.any.13y-up.holdAbove': 41,
      },
      'plausible.body-temperature.value.any.any.rejectAbove',
      'must not be below 42 Cel: by default such a value is at most held',
    ],
    [
      'a reject bound moved in where nothing is held by default',
      { 'plausible.oxygen-saturation.value.any.any.rejectAbove': 99 },
      'plausible.oxygen-saturation.value.any.any.rejectAbove',
      'must not be below 100 %',
    ],
    [
      'bounds that let nothing pass',
      { 'plausible.body-weight.value.any.13y-up.holdBelow': 300 },
      'plausible.body-weight.value.any.13y-up.holdBelow',
      'every value would be held',
    ],
    [
      'a low limit above the high one',
      { [`${ADULT_PULSE}.low`]: 101 },
      `${ADULT_PULSE}.low`,
      'must not be above band.pulse-rate.value.any.18y-up.high (100 /min)',
    ],
    [
      'a critically low limit that is not below the low one',
      { [`${ADULT_PULSE}.criticalLow`]: 60 },
      `${ADULT_PULSE}.criticalLow`,
      'must be below band.pulse-rate.value.any.18y-up.low (60 /min)',
    ],
    [
      'a limit of one sex that crosses another of both',
      { 'band.blood-pressure.systolic.female.4y-5y.high': 170 },
      'band.blood-pressure.systolic.female.4y-5y.high',
      'must be below band.blood-pressure.systolic.any.4y-5y.criticalHigh (170 mm[Hg])',
    ],
    [
      'a disagreement that begins before agreement ends',
      { 'pulse-methods-disagree.difference': 8 },
      'pulse-methods-disagree.difference',
      'pulse-methods-differ.difference (10 /min) must not be above pulse-methods-disagree.difference (8 /min)',
    ],
    [
      'the same, said at the setting that was changed',
      { 'pulse-methods-differ.difference': 22 },
      'pulse-methods-differ.difference',
      'pulse-methods-differ.difference (22 /min) must not be above pulse-methods-disagree.difference (20 /min)',
    ],
    [
      'a range that ends before it begins',
      { 'pulse-methods-disagree.half-from': 0.6 },
      'pulse-methods-disagree.half-from',
      'must not be above pulse-methods-disagree.half-to (0.55)',
    ],
    [
      'a negative window',
      { 'pulse-methods-disagree.window': -5 },
      'pulse-methods-disagree.window',
      'must be from 0 to 1440 min',
    ],
    [
      'an age that is none',
      { 'kilopascal-suspected.from-age': -1 },
      'kilopascal-suspected.from-age',
      'must be from 12 to 1500 mo',
    ],
    [
      'a relative tolerance that is none',
      { 'pulse-methods-differ.share': 0 },
      'pulse-methods-differ.share',
      'must be from 0.01 to 1',
    ],
    [
      'a fever rejected as Fahrenheit',
      { 'fahrenheit-suspected.from': 41 },
      'fahrenheit-suspected.from',
      'a possible temperature would be rejected as Fahrenheit',
    ],
    [
      'a cold patient rejected as Celsius: 86 °F is 30 °C',
      { 'celsius-suspected.below': 86 },
      'celsius-suspected.below',
      'a possible temperature would be rejected as Celsius',
    ],
  ])('%s', (_name, numbers, setting, words) => {
    const said = faultsOf(numbers).filter((fault) => fault.startsWith(`${setting}: `));
    expect(said.join('\n')).toContain(words);
  });

  it('names every one of them', () => {
    const settings = faultsOf({
      'pulse-methods-disagree.difference': 8,
      [`${ADULT_PULSE}.low`]: 101,
      'time-in-future.ahead': 900,
    }).map((fault) => fault.split(':')[0]);
    expect(new Set(settings)).toEqual(
      new Set(['pulse-methods-disagree.difference', `${ADULT_PULSE}.low`, 'time-in-future.ahead']),
    );
  });

  it('says nothing that rests on a setting whose form is at fault', () => {
    expect(faultsOf({ [`${PULSE}.13y-up.holdAbove`]: 360 }, [`${PULSE}.any.rejectAbove`])).toEqual(
      [],
    );
  });

  it('has nothing against limits that are a little narrower and still in order', () => {
    expect(
      faultsOf({
        'pulse-methods-disagree.difference': 15,
        [`${PULSE}.13y-up.holdAbove`]: 220,
        [`${ADULT_PULSE}.criticalHigh`]: 140,
        'band.blood-pressure.systolic.any.18y-up.criticalHigh': 180,
      }),
    ).toEqual([]);
  });

  it('is silent exactly where reject lies around hold, and hold around the critical limits', () => {
    const id = `${PULSE}.13y-up.holdAbove`;
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 400 }), (at) => {
        // From 13 years on the critical limits are 140, then 131 (Bedside PEWS 2009, NEWS2 2017); one
        // step before a critical limit nothing lies that is not critical.
        const sound = at >= 139 && at <= 350;
        expect(faultsOf({ [id]: at }).length === 0).toBe(sound);
      }),
    );
  });

  it('leaves room for every cell of the tables to be changed', () => {
    const stuck = SETTINGS.filter(({ id, at }) => {
      if (!/^(plausible|band)\./.test(id)) return false;
      const step = at === 0 ? 0.5 : at * 0.01;
      return [at + step, at - step].every((each) => faultsOf({ [id]: each }).length > 0);
    }).map(({ id }) => id);
    // They stand where the sign itself ends.
    expect(stuck).toEqual([
      'plausible.oxygen-saturation.value.any.any.rejectAbove',
      'plausible.oxygen-flow.value.any.any.rejectBelow',
      'plausible.inspired-oxygen.value.any.any.rejectAbove',
    ]);
  });
});
