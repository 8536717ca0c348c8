import { decideVerdicts } from '../../src/verdict/decide.js';
import type { Finding } from '../../src/vitals/shapes.js';
import type { HoldKind } from '../../src/vitals/words.js';
import {
  ADULT,
  contextOf,
  cuffPressure,
  kept,
  manualPressure,
  minutesFromNoon,
  palpatedPulse,
  reading,
  respiratoryRate,
  saturation,
  temperature,
  UNATTENDED,
} from '../rules/build-context.js';
import { judge } from '../rules/judge.js';

const finding = (
  verdict: Finding['verdict'],
  readings: readonly number[],
  more: Partial<Finding> = {},
): Finding => ({
  rule: 'a-rule',
  verdict,
  readings,
  message: 'A message.',
  advice: 'Some advice.',
  source: 'A source.',
  ...(verdict === 'held' ? { hold: 'value' as const } : {}),
  ...more,
});
const held = (readings: readonly number[], hold: HoldKind = 'value', more: Partial<Finding> = {}) =>
  finding('held', readings, { hold, ...more });

const usual = contextOf([respiratoryRate(16), saturation(97), temperature(37.1)]);

describe('verdicts', () => {
  it('is the worst that was said of a reading, and of a set the worst of its readings', () => {
    const findings = [finding('noted', [0]), finding('noted', [1]), held([1])];
    const judged = decideVerdicts(usual, findings, 7);
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['noted', 'held', 'accepted']);
    expect(judged).toMatchObject({ verdict: 'held', edition: 7, findings });
    expect(decideVerdicts(usual, [...findings, finding('rejected', [2])], 7).verdict).toBe(
      'rejected',
    );
    expect(decideVerdicts(usual, [], 7).verdict).toBe('accepted');
  });

  it('attaches a finding to the readings that it names, or to each', () => {
    const about = finding('noted', [1, 2]);
    const each = finding('noted', []);
    const judged = decideVerdicts(usual, [about, each], 1);
    expect(judged.readings.map(({ findings }) => findings)).toEqual([
      [each],
      [about, each],
      [about, each],
    ]);
  });

  it('names the gravest kind of hold', () => {
    const judged = decideVerdicts(
      usual,
      [held([0]), held([0], 'unit'), held([1]), held([2], 'identity'), held([2], 'unit')],
      1,
    );
    expect(judged.readings.map(({ hold }) => hold)).toEqual(['unit', 'value', 'identity']);
  });

  it('leaves a rejected reading rejected in a set whose patient is in doubt', () => {
    const judged = decideVerdicts(usual, [held([], 'identity'), finding('rejected', [1])], 1);
    expect(judged.readings.map(({ verdict, hold }) => [verdict, hold])).toEqual([
      ['held', 'identity'],
      ['rejected', null],
      ['held', 'identity'],
    ]);
  });
});

describe('status', () => {
  const statuses = (...args: Parameters<typeof decideVerdicts>) =>
    decideVerdicts(...args).readings.map(({ status }) => status);

  it('is final where a person attends, preliminary where nobody does', () => {
    expect(statuses(usual, [finding('noted', [0])], 1)).toEqual(['final', 'final', 'final']);
    expect(statuses({ ...usual, source: UNATTENDED }, [finding('noted', [0])], 1)).toEqual([
      'preliminary',
      'preliminary',
      'preliminary',
    ]);
  });

  it('is cancelled for what was not taken, whoever sent it', () => {
    const absent = contextOf([reading('body-weight', {}, { absent: 'refused' })]);
    expect(statuses(absent, [], 1)).toEqual(['cancelled']);
    expect(statuses({ ...absent, source: UNATTENDED }, [], 1)).toEqual(['cancelled']);
    expect(statuses(absent, [held([], 'identity')], 1)).toEqual([null]);
  });

  it('of a hold is none, but preliminary at once for the value hold of a critical reading', () => {
    const critical = contextOf([saturation(84), respiratoryRate(16)]);
    expect(statuses(critical, [held([0]), held([1])], 1)).toEqual(['preliminary', null]);
    expect(statuses(critical, [held([0], 'unit')], 1)).toEqual([null, 'final']);
    expect(statuses(critical, [held([], 'identity')], 1)).toEqual([null, null]);
    expect(statuses(critical, [held([0]), held([0], 'identity')], 1)).toEqual([null, 'final']);
    expect(statuses(critical, [finding('rejected', [0])], 1)).toEqual([null, 'final']);
  });

  it('is preliminary for both sides where one is critical, and for neither where none is', () => {
    const apart = contextOf([manualPressure([84, 50]), cuffPressure([128, 80]), palpatedPulse(70)]);
    expect(statuses(apart, [held([0, 1])], 1)).toEqual(['preliminary', 'preliminary', 'final']);
    const usualApart = contextOf([manualPressure([106, 72]), cuffPressure([134, 80])]);
    expect(statuses(usualApart, [held([0, 1])], 1)).toEqual([null, null]);
  });

  it('does not take a hold of the whole set for a disagreement', () => {
    const critical = contextOf([saturation(84), respiratoryRate(16)]);
    expect(statuses(critical, [held([])], 1)).toEqual(['preliminary', null]);
  });
});

describe('earlier readings that a critical one contradicts', () => {
  const before = (systolic: number, diastolic: number) =>
    kept(cuffPressure([systolic, diastolic], { takenAt: minutesFromNoon(-3) }), {
      verdict: 'held',
      hold: 'value',
      status: null,
    });

  it('go out where they wait for a decision about their value', () => {
    const earlier = [before(128, 80)];
    const judged = judge(contextOf([manualPressure([84, 50])], { earlier }));
    expect(judged.readings[0]?.status).toBe('preliminary');
    expect(judged.publishEarlier).toEqual([earlier[0]?.readingId]);
  });

  it('stay where they are already out, or wait for their unit', () => {
    for (const changes of [
      { status: 'preliminary' },
      { verdict: 'accepted', hold: null },
    ] as const) {
      const earlier = [{ ...before(128, 80), ...changes }];
      expect(judge(contextOf([manualPressure([84, 50])], { earlier })).publishEarlier).toEqual([]);
    }
    const byUnit = { ...before(128, 80), hold: 'unit' as const };
    const context = contextOf([manualPressure([84, 50])], { earlier: [byUnit] });
    const named = held([0], 'value', { earlier: [byUnit.readingId] });
    expect(decideVerdicts(context, [named], 1).publishEarlier).toEqual([]);
  });

  it('push out a usual reading that contradicts them where they are critical', () => {
    const earlier = [before(84, 50)];
    const judged = judge(contextOf([manualPressure([128, 80])], { earlier }));
    expect(judged.readings[0]).toMatchObject({ critical: false, status: 'preliminary' });
    expect(judged.publishEarlier).toEqual([earlier[0]?.readingId]);
  });

  it('stay while it is in doubt whose reading contradicts them', () => {
    const earlier = [before(128, 80)];
    const context = contextOf([manualPressure([84, 50])], { earlier });
    const findings = [
      held([], 'identity'),
      held([0], 'value', { earlier: ['0197c0de-0000-7000-8000-000000000001'] }),
    ];
    expect(decideVerdicts(context, findings.slice(1), 1).publishEarlier).toHaveLength(1);
    expect(decideVerdicts(context, findings, 1).publishEarlier).toEqual([]);
  });

  it('stay where neither side is critical', () => {
    const earlier = [before(106, 72)];
    const judged = judge(contextOf([manualPressure([134, 80])], { earlier }));
    expect(judged).toMatchObject({ verdict: 'held', publishEarlier: [] });
    expect(judged.readings[0]?.status).toBeNull();
  });
});

describe('interpretation', () => {
  it('stands on every reading that can be a measurement', () => {
    const judged = judge(contextOf([manualPressure([168, 84]), palpatedPulse(400)]));
    expect(judged.readings.map(({ interpretation }) => interpretation)).toEqual([
      { systolic: 'H', diastolic: 'N' },
      {},
    ]);
  });

  it('goes by the age at the time of each reading (WHO 1997: newborn temperature to 28 days)', () => {
    const dayBefore = minutesFromNoon(-24 * 60);
    const context = contextOf([temperature(35.9), temperature(35.9, { takenAt: dayBefore })], {
      patient: { ...ADULT, birthDate: '2026-02-14' },
    });
    expect(judge(context).readings.map(({ interpretation }) => interpretation.value)).toEqual([
      'L',
      'LL',
    ]);
  });

  it('goes by the sex that the register tells (AAP 2017, Table 6: 107/70 boys, 108/71 girls at 9 years)', () => {
    const nine = (gender: 'male' | 'female' | null) =>
      judge(
        contextOf([manualPressure([107, 60])], {
          patient: { ...ADULT, birthDate: '2017-01-10', gender },
        }),
      ).readings[0]?.interpretation.systolic;
    expect([nine('male'), nine('female'), nine(null)]).toEqual(['H', 'N', 'H']);
  });
});
