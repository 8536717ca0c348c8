import {
  contextOf,
  cuffPressure,
  kept,
  manualPressure,
  minutesFromNoon,
  oximeterPulse,
  palpatedPulse,
  reading,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { findingsOf, judge, verdictOf } from './judge.js';

const confirmed = { context: { confirmed: true } };
const device = (value: string) => ({ device: { system: 'urn:example:device', value } });

/** A hold is lifted by a measurement repeated by a person (common practice, no source). */
describe('value-confirmed', () => {
  it('turns the doubt into a note that says so', () => {
    const judged = judge(contextOf([temperature(42.4, confirmed)]));
    expect(judged.readings[0]).toMatchObject({
      verdict: 'noted',
      hold: null,
      status: 'final',
      critical: true,
    });
    expect(judged.findings[0]).toMatchObject({
      rule: 'value-doubtful',
      verdict: 'noted',
      figures: { value: 42.4, limit: 42, liftedBy: 'value-confirmed' },
      message: expect.stringContaining('measured again and confirmed') as string,
    });
    expect(judged.findings[0]).not.toHaveProperty('hold');
  });

  it('does not count from a source that nobody attends', () => {
    expect(verdictOf(temperature(42.4, confirmed), { source: UNATTENDED })).toBe('held');
  });

  it('lifts the doubt about its own reading only', () => {
    const judged = judge(contextOf([temperature(42.4, confirmed), saturation(48)]));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['noted', 'held']);
  });

  it('lifts a narrow pulse pressure', () => {
    expect(verdictOf(manualPressure([98, 90], confirmed))).toBe('noted');
  });

  it.each([
    ['an impossible value', temperature(48, confirmed), 'rejected'],
    ['a suspected unit', manualPressure([16, 11], confirmed), 'held'],
  ])('does not lift %s', (_name, doubted, verdict) => {
    expect(verdictOf(doubted)).toBe(verdict);
  });

  it('does not lift a disagreement of methods, nor a clock that is ahead', () => {
    const apart = contextOf([
      manualPressure([168, 84], confirmed),
      cuffPressure([130, 80], confirmed),
    ]);
    expect(judge(apart).verdict).toBe('held');
    expect(verdictOf(temperature(37.2, { ...confirmed, takenAt: minutesFromNoon(90) }))).toBe(
      'held',
    );
  });
});

/** Tolerances as where methods are compared: 10 mmHg (AAMI/ESH/ISO 2018), 10 beats and 6 breaths (Edmonds 2002), 0.6 degrees (after Pecoraro 2021). */
describe('value-corroborated', () => {
  const ear = (value: number) => temperature(value, { site: 'tympanic', ...device('T-2') });
  const mouth = (value: number) => temperature(value, device('T-1'));

  it.each([
    ['pulse by two methods', palpatedPulse(252), oximeterPulse(242), oximeterPulse(241)],
    [
      'pressure by two methods',
      manualPressure([254, 140]),
      cuffPressure([244, 138]),
      cuffPressure([243, 138]),
    ],
    ['temperature by two devices', mouth(42.3), ear(41.7), ear(41.6)],
    [
      'breathing by two methods',
      reading('respiratory-rate', { value: 72 }, { method: 'counted' }),
      reading('respiratory-rate', { value: 66 }, { method: 'impedance' }),
      reading('respiratory-rate', { value: 65 }, { method: 'impedance' }),
    ],
  ])('%s: at the tolerance and one step outside', (_name, doubted, near, far) => {
    expect(judge(contextOf([doubted, near])).readings[0]?.verdict).toBe('noted');
    expect(judge(contextOf([doubted, far])).readings[0]?.verdict).toBe('held');
  });

  it.each([
    ['the same method, no device told', temperature(42.3), temperature(42.2)],
    ['the same device', mouth(42.3), temperature(42.2, device('T-1'))],
    ['too long ago', mouth(42.3), { ...ear(42.2), takenAt: minutesFromNoon(-5.001) }],
    [
      'a saturation: oximeters state no accuracy below 70 %',
      saturation(47, device('O-1')),
      saturation(47, device('O-2')),
    ],
  ])('does not count: %s', (_name, doubted, other) => {
    expect(judge(contextOf([doubted, other])).readings[0]?.verdict).toBe('held');
  });

  it('measures the distance in decimals, not in the noise of binary fractions', () => {
    const judged = judge(contextOf([mouth(42.7), ear(42.1)]));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['noted', 'noted']);
  });

  it('does not count a reading of a suspected unit', () => {
    const suspected = cuffPressure([34, 19]);
    expect(judge(contextOf([manualPressure([38, 22]), suspected])).readings[0]?.verdict).toBe(
      'held',
    );
  });

  it('needs every doubtful part', () => {
    const both = manualPressure([38, 18]);
    expect(judge(contextOf([both, cuffPressure([42, 21])])).readings[0]?.verdict).toBe('noted');
    expect(judge(contextOf([both, cuffPressure([42, null])])).readings[0]?.verdict).toBe('held');
  });

  it('counts a reading kept before, and names it', () => {
    const earlier = kept(oximeterPulse(22, { takenAt: minutesFromNoon(-3) }), {
      verdict: 'held',
      hold: 'value',
      status: 'preliminary',
    });
    const context = contextOf([palpatedPulse(24)], { earlier: [earlier] });
    expect(findingsOf('value-doubtful', context)).toMatchObject([
      {
        verdict: 'noted',
        earlier: [earlier.readingId],
        figures: { liftedBy: 'value-corroborated' },
        message: expect.stringContaining(
          'A second measurement by oximeter agrees with it.',
        ) as string,
      },
    ]);
  });

  it('does not count a reading that was rejected or withdrawn', () => {
    const at = { takenAt: minutesFromNoon(-3) };
    for (const changes of [{ verdict: 'rejected' }, { status: 'entered-in-error' }] as const) {
      const context = contextOf([palpatedPulse(24)], {
        earlier: [kept(oximeterPulse(24, at), changes)],
      });
      expect(judge(context).verdict).toBe('held');
    }
    const impossibleMean = cuffPressure([252, 140, 20]);
    expect(
      judge(contextOf([manualPressure([254, 140]), impossibleMean])).readings[0]?.verdict,
    ).toBe('noted');
  });
});
