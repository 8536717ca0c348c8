import type { JudgingContext, Reading } from '../../src/vitals/shapes.js';
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
} from './build-context.js';
import { findingsOf, heard, judge } from './judge.js';

const crossChecks = (context: JudgingContext) =>
  heard(context).filter((line) => line.includes('methods'));
const pair = (a: Reading, b: Reading) => crossChecks(contextOf([a, b]));

/**
 * Tolerable error 10 mmHg (AAMI/ESH/ISO 2018). Two trained observers differ by up to 24.2 systolic and
 * 19.9 diastolic (Edmonds 2002, 95 % limits): held above 25 and 20.
 */
describe('blood-pressure-methods-differ and blood-pressure-methods-disagree', () => {
  const differ = ['blood-pressure-methods-differ noted 0+1'];
  const disagree = ['blood-pressure-methods-disagree held 0+1'];

  it.each([
    [10, 0, []],
    [11, 0, differ],
    [-25, 0, differ],
    [26, 0, disagree],
    [0, 10, []],
    [0, 11, differ],
    [0, -20, differ],
    [0, 21, disagree],
    [11, 21, disagree],
    [26, 11, disagree],
  ])('cuff %i systolic and %i diastolic away', (systolic, diastolic, expected) => {
    const cuff = cuffPressure([136 + systolic, 84 + diastolic]);
    expect(pair(manualPressure([136, 84]), cuff)).toEqual(expected);
    expect(pair(cuff, manualPressure([136, 84]))).toEqual(expected);
  });

  it('gives the figures of the part that is further beyond its limit', () => {
    const context = contextOf([manualPressure([168, 84]), cuffPressure([137, 82])]);
    const [finding] = findingsOf('blood-pressure-methods-disagree', context);
    expect(finding).toMatchObject({
      figures: { difference: 31, limit: 25, unit: 'mm[Hg]' },
      message:
        'Systolic pressure by stethoscope (168/84 mmHg) and by automatic cuff (137/82 mmHg) differ by 31 mmHg; 25 mmHg is the limit.',
    });
    expect(finding).not.toHaveProperty('discreetMessage');
  });

  it('may be the diastolic', () => {
    const context = contextOf([manualPressure([150, 100]), cuffPressure([123, 70])]);
    const [finding] = findingsOf('blood-pressure-methods-disagree', context);
    expect(finding?.figures).toEqual({ difference: 30, limit: 20, unit: 'mm[Hg]' });
    expect(finding?.message).toMatch(/^Diastolic/);
  });

  it('compares what a palpated pressure has: the systolic', () => {
    const palpated = manualPressure([150, null], { method: 'palpation' });
    expect(pair(palpated, cuffPressure([120, 78]))).toEqual(disagree);
  });

  it.each([
    ['the other arm', { side: 'left' }, { side: 'right' }, false],
    ['one arm unstated', { side: 'left' }, {}, true],
    ['another place', { site: 'upper-arm' }, { site: 'wrist' }, false],
    ['another position', { position: 'supine' }, { position: 'standing' }, false],
    ['five minutes apart', {}, { takenAt: minutesFromNoon(5) }, true],
    ['more than five minutes apart', {}, { takenAt: minutesFromNoon(5.001) }, false],
  ] as const)('%s', (_name, a, b, compared) => {
    const found = pair(manualPressure([160, 90], a), cuffPressure([120, 80], b));
    expect(found).toHaveLength(compared ? 1 : 0);
  });

  it('does not compare two by the same kind of method, nor an arterial line', () => {
    expect(pair(manualPressure([160, 90]), manualPressure([120, 80]))).toEqual([]);
    expect(pair(cuffPressure([160, 90]), linePressure([120, 80]))).toEqual([]);
  });

  it('does not hold a reading against one that is rejected', () => {
    const judged = judge(contextOf([manualPressure([84, 50]), cuffPressure([0, 0])]));
    expect(judged.readings.map(({ verdict, status }) => [verdict, status])).toEqual([
      ['noted', 'final'],
      ['rejected', null],
    ]);
  });

  describe('across sets', () => {
    const earlier = kept(cuffPressure([188, 96], { takenAt: minutesFromNoon(-3) }));
    const against = (before: typeof earlier) =>
      contextOf([manualPressure([128, 80])], { earlier: [before] });

    it('names the reading kept before, and hides its values where that is asked', () => {
      const [finding] = findingsOf('blood-pressure-methods-disagree', against(earlier));
      expect(finding).toMatchObject({
        readings: [0],
        earlier: [earlier.readingId],
        verdict: 'held',
      });
      expect(finding?.message).toContain('188/96 mmHg at 11:57');
      expect(finding?.discreetMessage).toBeDefined();
      expect(finding?.discreetMessage).not.toMatch(/188|96|60/);
    });

    it.each([
      ['rejected', { verdict: 'rejected', status: null }],
      ['held for its unit', { verdict: 'held', hold: 'unit', status: null }],
      ['held for its patient', { verdict: 'held', hold: 'identity', status: null }],
      ['withdrawn', { status: 'entered-in-error' }],
      ['not taken', { status: 'cancelled' }],
    ] as const)('does not compare with one that is %s', (_name, changes) => {
      expect(crossChecks(against({ ...earlier, ...changes }))).toEqual([]);
    });

    it('compares with one that is held for its value', () => {
      const held = { ...earlier, verdict: 'held', hold: 'value', status: null } as const;
      expect(crossChecks(against(held))).toHaveLength(1);
    });
  });
});

/**
 * Oximeter +-3 /min (FDA K212665), observers +-10.6 /min (Edmonds 2002): agreeing up to 10, held above
 * 20 (proposed), or where one is about half or double the other (proposed).
 */
describe('pulse-methods-differ and pulse-methods-disagree', () => {
  const differ = ['pulse-methods-differ noted 0+1'];
  const disagree = ['pulse-methods-disagree held 0+1'];

  it.each([
    [80, 90, []],
    [80, 91, differ],
    [80, 60, differ],
    [80, 101, disagree],
    [22, 40, disagree],
    [23, 41, differ],
    [9, 20, disagree],
    [8, 19, differ],
    [38, 20, disagree],
    [37, 20, differ],
    [21, 10, disagree],
    [22, 10, differ],
    [80, 145, disagree],
  ])('palpated %f, oximeter %f', (palpated, oximeter, expected) => {
    expect(pair(palpatedPulse(palpated), oximeterPulse(oximeter))).toEqual(expected);
  });

  it('tells half and double beside the difference', () => {
    const [half] = findingsOf(
      'pulse-methods-disagree',
      contextOf([palpatedPulse(38), oximeterPulse(76)]),
    );
    expect(half?.figures).toEqual({ difference: 38, limit: 20, unit: '/min', ratio: 0.5 });
    expect(half?.message).toContain('half');
    const [double] = findingsOf(
      'pulse-methods-disagree',
      contextOf([oximeterPulse(45), palpatedPulse(90)]),
    );
    expect(double).toMatchObject({ figures: { ratio: 2 }, readings: [0, 1] });
  });

  it('of an irregular rhythm is a note with the advice to count 60 s (NICE NG136 1.1.2), never a hold', () => {
    const irregular = palpatedPulse(64, { context: { regular: false } });
    for (const oximeter of [85, 128, 76]) {
      const context = contextOf([irregular, oximeterPulse(oximeter)]);
      expect(crossChecks(context)).toEqual(differ);
      const [finding] = findingsOf('pulse-methods-differ', context);
      expect(finding?.advice).toContain('60 s');
    }
    expect(pair(irregular, oximeterPulse(72))).toEqual([]);
    const toldByDevice = oximeterPulse(128, { context: { regular: false } });
    expect(pair(palpatedPulse(64), toldByDevice)).toEqual(differ);
  });

  it('is called no deficit: that is apex less radial', () => {
    const context = contextOf([palpatedPulse(60), oximeterPulse(90)]);
    expect(JSON.stringify(judge(context).findings)).not.toMatch(/deficit/i);
    const apex = reading('pulse-rate', { value: 96 }, { method: 'auscultation', site: 'apex' });
    expect(crossChecks(contextOf([apex, palpatedPulse(70)]))).toEqual([]);
  });

  it('compares across sets', () => {
    const earlier = kept(palpatedPulse(61, { takenAt: minutesFromNoon(-4) }));
    const context = contextOf([oximeterPulse(97)], { earlier: [earlier] });
    const [finding] = findingsOf('pulse-methods-disagree', context);
    expect(finding).toMatchObject({ readings: [0], earlier: [earlier.readingId] });
    expect(finding?.discreetMessage).not.toMatch(/61/);
  });
});
