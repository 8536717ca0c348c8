import { makeRuleRunner } from '../../src/rules/run.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import type { EarlierReading, JudgedSet, Reading } from '../../src/vitals/shapes.js';
import {
  contextOf,
  cuffPressure,
  linePressure,
  manualPressure,
  minutesFromNoon,
  oximeterPulse,
  palpatedPulse,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { asKept } from './as-kept.js';
import { breakRule, findingsOf, judge } from './judge.js';

const device = (value: string) => ({ device: { system: 'urn:example:device', value } });
const verdicts = (judged: JudgedSet) => judged.readings.map(({ verdict }) => verdict);
const judgeSet = (readings: readonly Reading[], earlier: readonly EarlierReading[] = []) =>
  judge(contextOf(readings, { earlier }));

const manual = manualPressure([118, 76]);
const cuff = cuffPressure([159, 97]);

/**
 * Common practice, no source, in the wording agreed for this gateway: two readings support each other
 * only if they differ in method or in device; a third releases a pair that spans both methods.
 * Agreement within 10 mmHg (AAMI/ESH/ISO 2018), 10 /min (Edmonds 2002), 0.6 degrees (Pecoraro 2021).
 */
describe('resolved-by-repeat', () => {
  describe('in one set', () => {
    it.each([
      ['the cuff again, near the stethoscope', cuffPressure([121, 78]), ['noted', 'held']],
      ['at the tolerance', cuffPressure([128, 86]), ['noted', 'held']],
      ['one step outside it', cuffPressure([129, 86]), ['held', 'held']],
      ['outside it in the diastolic', cuffPressure([120, 87]), ['held', 'held']],
      ['the stethoscope again, near the cuff', manualPressure([156, 95]), ['held', 'noted']],
      ['the cuff again, as before', cuffPressure([161, 96]), ['held', 'held']],
      ['the stethoscope again, as before', manualPressure([117, 75]), ['held', 'held']],
      ['another arm', cuffPressure([121, 78], { side: 'right' }), ['held', 'held']],
      [
        'at the window',
        cuffPressure([121, 78], { takenAt: minutesFromNoon(5) }),
        ['noted', 'held'],
      ],
      ['past it', cuffPressure([121, 78], { takenAt: minutesFromNoon(5.001) }), ['held', 'held']],
      ['a part that is missing', cuffPressure([121, null]), ['held', 'held']],
      ['an arterial line, no method of the two', linePressure([119, 77]), ['held', 'held']],
    ])('%s', (_name, third, expected) => {
      const left = { side: 'left' } as const;
      const judged = judgeSet([{ ...manual, ...left }, { ...cuff, ...left }, third]);
      expect(verdicts(judged).slice(0, 2)).toEqual(expected);
    });

    it('tells what agrees, what was released and what stands apart', () => {
      const context = contextOf([manual, cuff, cuffPressure([121, 78])]);
      const [resolution] = findingsOf('resolved-by-repeat', context);
      expect(resolution).toMatchObject({
        verdict: 'noted',
        readings: [0, 2],
        message:
          '118/76 mmHg by stethoscope and 121/78 mmHg by automatic cuff agree: 118/76 mmHg by stethoscope is no longer held for a disagreement. 159/97 mmHg by automatic cuff stands apart and is left as it was.',
      });
      expect(findingsOf('blood-pressure-methods-disagree', context)).toMatchObject([
        { verdict: 'noted', readings: [0], figures: { liftedBy: 'resolved-by-repeat' } },
        { verdict: 'held', hold: 'value', readings: [1] },
      ]);
    });

    it('publishes the released reading as one that was never held', () => {
      const readings = [manual, cuff, cuffPressure([121, 78])];
      expect(judgeSet(readings).readings.map(({ status }) => status)).toEqual([
        'final',
        null,
        'final',
      ]);
      const unattended = judge(contextOf(readings, { source: UNATTENDED }));
      expect(unattended.readings.map(({ status }) => status)).toEqual([
        'preliminary',
        null,
        'preliminary',
      ]);
    });

    it('leaves every reading held where each side finds support', () => {
      const four = [manual, cuff, cuffPressure([120, 75]), manualPressure([158, 96])];
      expect(verdicts(judgeSet(four))).toEqual(['held', 'held', 'held', 'held']);
    });

    it('leaves both held where two supports of one side contradict each other', () => {
      const apart = [manual, cuff, cuffPressure([109, 76]), cuffPressure([127, 76])];
      expect(verdicts(judgeSet(apart)).slice(0, 2)).toEqual(['held', 'held']);
    });

    it('leaves a pair of one method held until the outlier’s own method speaks against it', () => {
      const other = cuffPressure([157, 95], device('C-2'));
      const alone = [manual, { ...cuff, ...device('C-1') }, other];
      expect(verdicts(judgeSet(alone))).toEqual(['held', 'held', 'held']);
      expect(verdicts(judgeSet([...alone, manualPressure([154, 94])]))).toEqual([
        'held',
        'noted',
        'noted',
        'noted',
      ]);
    });

    it('counts no agreement of a method with itself, whatever it is repeated', () => {
      const stubborn = [manual, cuff, cuffPressure([160, 98]), cuffPressure([121, 77])];
      expect(verdicts(judgeSet(stubborn))).toEqual(['noted', 'held', 'held', 'noted']);
    });

    it('does not lift another doubt about the reading', () => {
      // Pulse pressure 8 below 100 systolic is held by a rule of its own (PMC7015776, Table 1).
      const narrow = [manualPressure([96, 88]), cuffPressure([138, 94]), cuffPressure([98, 86])];
      const judged = judgeSet(narrow);
      expect(judged.readings[0]).toMatchObject({ verdict: 'held', hold: 'value' });
      expect(
        judged.readings[0]?.findings.map(({ rule, verdict }) => [rule, verdict]),
      ).toContainEqual(['blood-pressure-methods-disagree', 'noted']);
    });
  });

  describe('a critical value', () => {
    it('as the outlier stays published as preliminary, and is not rejected', () => {
      const judged = judgeSet([
        manualPressure([128, 80]),
        cuffPressure([84, 50]),
        cuffPressure([124, 78]),
      ]);
      expect(judged.readings[1]).toMatchObject({
        verdict: 'held',
        critical: true,
        status: 'preliminary',
      });
      expect(judged.readings[0]).toMatchObject({ verdict: 'noted', status: 'final' });
    });

    it('that is released leaves the one it contradicts published too', () => {
      const judged = judgeSet([
        manualPressure([84, 50]),
        cuffPressure([128, 80]),
        cuffPressure([86, 52]),
      ]);
      expect(judged.readings.map(({ verdict, status }) => [verdict, status])).toEqual([
        ['noted', 'final'],
        ['held', 'preliminary'],
        ['noted', 'final'],
      ]);
    });

    it('that is released sends out an earlier outlier that waits', () => {
      const accepted = asKept(judgeSet([manualPressure([92, 60])]), 4, 'first');
      const outlier = asKept(judgeSet([cuffPressure([132, 82])], accepted), 3, 'second');
      expect(outlier[0]).toMatchObject({ verdict: 'held', status: null });
      const repeat = [manualPressure([88, 58]), cuffPressure([90, 60])];
      const judged = judgeSet(repeat, [...accepted, ...outlier]);
      expect(verdicts(judged)).toEqual(['noted', 'noted']);
      expect(judged.publishEarlier).toEqual(['second-0']);
      expect(judged.resolved).toEqual([]);
    });
  });

  describe('across sets', () => {
    const both = asKept(judgeSet([manual, cuff]), 3);

    it('releases the earlier reading that the repeat agrees with, and that one only', () => {
      const judged = judgeSet([cuffPressure([121, 78])], both);
      expect(judged.resolved.map(({ readingId }) => readingId)).toEqual(['before-0']);
      expect(judged.resolved[0]?.finding).toMatchObject({
        rule: 'resolved-by-repeat',
        readings: [0],
        earlier: ['before-0'],
      });
      expect(judged.resolved[0]?.finding.message).toContain('118/76 mmHg by stethoscope at 11:57');
      expect(judged.resolved[0]?.finding.discreetMessage).not.toMatch(/118|159/);
      expect(judged).toMatchObject({ verdict: 'noted', publishEarlier: [] });
    });

    it('lifts the hold of the new reading', () => {
      const first = asKept(judgeSet([manual]), 4, 'first');
      const second = asKept(judgeSet([cuff], first), 3, 'second');
      const third = asKept(judgeSet([cuffPressure([122, 79])], [...first, ...second]), 2, 'third');
      expect(third[0]?.hold).toBeNull();
      // By stethoscope again: against the first cuff reading it would be held.
      const again = judgeSet([manualPressure([120, 77])], [...first, ...second, ...third]);
      expect(again.readings[0]).toMatchObject({ verdict: 'noted', hold: null, status: 'final' });
      expect(again.resolved).toEqual([]);
    });

    it('does not touch what was accepted, rejected or decided before', () => {
      const first = asKept(judgeSet([manual]), 4, 'first');
      const second = asKept(judgeSet([cuff], first), 3, 'second');
      const judged = judgeSet([manualPressure([160, 96])], [...first, ...second]);
      expect(judged.resolved.map(({ readingId }) => readingId)).toEqual(['second-0']);
    });

    it.each([
      [
        'is held for something else too',
        { doubts: [...(both[0]?.doubts ?? []), doubtOf('value-doubtful')] },
      ],
      [
        'is held because a rule failed',
        { doubts: [{ ...doubtOf('blood-pressure-methods-disagree'), failed: true as const }] },
      ],
      ['is held for its unit', { hold: 'unit' as const }],
      [
        'was held against one more that is out of sight',
        {
          doubts: [
            ...(both[0]?.doubts ?? []),
            { ...doubtOf('blood-pressure-methods-disagree'), earlier: ['elsewhere'] },
          ],
        },
      ],
    ])('leaves a reading that %s', (_name, changes) => {
      const [held, outlier] = both;
      if (held === undefined || outlier === undefined) throw new Error('two readings were kept');
      const judged = judgeSet([cuffPressure([121, 78])], [{ ...held, ...changes }, outlier]);
      expect(judged.resolved).toEqual([]);
    });

    it('leaves it where the outlier was rejected meanwhile: a reviewer is at work', () => {
      const [held, outlier] = both;
      if (held === undefined || outlier === undefined) throw new Error('two readings were kept');
      const rejected: EarlierReading = { ...outlier, verdict: 'rejected', hold: null };
      expect(judgeSet([cuffPressure([121, 78])], [held, rejected]).resolved).toEqual([]);
    });

    it('asks nothing of earlier readings while it is in doubt whose the set is', () => {
      const judged = judge(contextOf([cuffPressure([121, 78])], { earlier: both, patient: null }));
      expect(judged.resolved).toEqual([]);
      expect(judged.readings[0]?.hold).toBe('identity');
    });
  });

  describe('of pulses', () => {
    const felt = palpatedPulse(38);
    const shown = oximeterPulse(76);

    it('is as of pressures', () => {
      expect(verdicts(judgeSet([felt, shown, palpatedPulse(74)]))).toEqual([
        'held',
        'noted',
        'noted',
      ]);
      expect(verdicts(judgeSet([felt, shown, oximeterPulse(40)]))).toEqual([
        'noted',
        'held',
        'noted',
      ]);
      expect(verdicts(judgeSet([felt, shown, palpatedPulse(40)]))).toEqual([
        'held',
        'held',
        'held',
      ]);
    });

    it('leaves all held where the third agrees with both', () => {
      // 9 and 20 contradict each other only as about half (0.45); 15 lies within 10 of either.
      const judged = judgeSet([palpatedPulse(9), oximeterPulse(20), palpatedPulse(15)]);
      expect(verdicts(judged).slice(0, 2)).toEqual(['held', 'held']);
    });

    it('has nothing to do where the rhythm is irregular: there was no hold', () => {
      const irregular = palpatedPulse(64, { context: { regular: false } });
      expect(verdicts(judgeSet([irregular, oximeterPulse(110), oximeterPulse(66)]))).toEqual([
        'noted',
        'noted',
        'accepted',
      ]);
    });
  });

  describe('of temperatures', () => {
    const mouth = (value: number, by: string) => temperature(value, device(by));
    const ear = (value: number, by: string) =>
      temperature(value, { site: 'tympanic', ...device(by) });

    it('needs both sites, and another thermometer', () => {
      const two = [mouth(36.8, 'T-1'), ear(39.2, 'T-2')];
      expect(verdicts(judgeSet([...two, ear(37.1, 'T-2')]))).toEqual(['noted', 'held', 'noted']);
      expect(verdicts(judgeSet([...two, ear(37.1, 'T-1')])).slice(0, 2)).toEqual(['held', 'held']);
      expect(verdicts(judgeSet([...two, mouth(36.9, 'T-3')])).slice(0, 2)).toEqual([
        'held',
        'held',
      ]);
    });
  });

  it('that fails leaves every hold as it was', () => {
    const run = makeRuleRunner(breakRule('resolved-by-repeat'));
    const failed: string[] = [];
    const context = contextOf([manual, cuff, cuffPressure([121, 78])]);
    const judged = decideVerdicts(
      context,
      run(context, (rule) => failed.push(rule)),
      1,
    );
    expect(verdicts(judged).slice(0, 2)).toEqual(['held', 'held']);
    expect(failed).toEqual(['resolved-by-repeat']);
  });
});

function doubtOf(rule: string) {
  return {
    rule,
    verdict: 'held',
    readings: [0],
    message: 'doubted',
    advice: 'measure again',
    source: 'none',
    hold: 'value',
  } as const;
}
