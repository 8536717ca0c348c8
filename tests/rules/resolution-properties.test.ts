import fc from 'fast-check';
import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner } from '../../src/rules/run.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import type { EarlierReading, JudgedSet, Reading } from '../../src/vitals/shapes.js';
import { asKept } from './as-kept.js';
import {
  contextOf,
  cuffPressure,
  manualPressure,
  minutesFromNoon,
  oximeterPulse,
  palpatedPulse,
} from './build-context.js';
import { judge } from './judge.js';

const device = (value: string) => ({ device: { system: 'urn:example:device', value } });
const judgeSet = (readings: readonly Reading[], earlier: readonly EarlierReading[] = []) =>
  judge(contextOf(readings, { earlier }));

/** The rule of three, written down a second time: whole pressures, one arm, one moment, no devices. */
describe('for every three pressures', () => {
  const agree = (a: Reading, b: Reading) =>
    gap(a, b, 'systolic') <= 10 && gap(a, b, 'diastolic') <= 10;
  const contradict = (a: Reading, b: Reading) =>
    a.method !== b.method && (gap(a, b, 'systolic') > 25 || gap(a, b, 'diastolic') > 20);
  const gap = (a: Reading, b: Reading, part: 'systolic' | 'diastolic') =>
    Math.abs((a.values[part]?.number ?? 0) - (b.values[part]?.number ?? 0));

  const one = fc
    .tuple(fc.boolean(), fc.integer({ min: 110, max: 160 }), fc.integer({ min: 60, max: 90 }))
    .map(([byHand, systolic, diastolic]) =>
      byHand ? manualPressure([systolic, diastolic]) : cuffPressure([systolic, diastolic]),
    );
  const three = fc.tuple(one, one, one);

  /** Held are both sides of a contradiction, save those of the one pair that agrees. */
  function expected(readings: readonly Reading[]): readonly boolean[] {
    const pairs = readings.flatMap((a, at) => readings.slice(at + 1).map((b) => [a, b] as const));
    const supporting = pairs.filter(([a, b]) => a.method !== b.method && agree(a, b));
    const [pair] = supporting;
    return readings.map((reading) => {
      const against = readings.filter((other) => contradict(reading, other));
      const released =
        supporting.length === 1 &&
        pair?.includes(reading) === true &&
        against.every((other) => !pair.some((each) => agree(each, other)));
      return against.length > 0 && !released;
    });
  }

  it('exactly those are held that the rule says', () => {
    fc.assert(
      fc.property(three, (readings) => {
        expect(judgeSet(readings).readings.map(({ verdict }) => verdict === 'held')).toEqual(
          expected(readings),
        );
      }),
      { numRuns: 1000 },
    );
  });

  it('it comes to the same when the third arrives later, save for what was accepted before', () => {
    fc.assert(
      fc.property(three, ([a, b, c]) => {
        const before = asKept(judgeSet([a, b]), 0);
        const later = judgeSet([c], before);
        const together = judgeSet([a, b, c]);
        before.forEach((kept, at) => {
          if (kept.verdict !== 'held') return;
          const released = later.resolved.some(({ readingId }) => readingId === kept.readingId);
          // A third that contradicts what was accepted holds nothing but itself.
          if (together.readings[at]?.verdict !== 'held') expect(released).toBe(true);
          if (released) expect(together.readings[at]?.verdict).toBe('noted');
        });
        expect(later.readings[0]?.verdict === 'held').toBe(
          together.readings[2]?.verdict === 'held',
        );
      }),
      { numRuns: 1000 },
    );
  });

  it('nobody is rejected, and what is critical is published', () => {
    const wide = fc
      .tuple(fc.boolean(), fc.integer({ min: 60, max: 240 }), fc.integer({ min: 40, max: 59 }))
      .map(([byHand, systolic, diastolic]) =>
        byHand ? manualPressure([systolic, diastolic]) : cuffPressure([systolic, diastolic]),
      );
    fc.assert(
      fc.property(fc.array(wide, { minLength: 3, maxLength: 5 }), (readings) => {
        const judged = judgeSet(readings);
        const without = decideVerdicts(
          contextOf(readings),
          makeRuleRunner(RULES.filter(({ id }) => id !== 'resolved-by-repeat'))(
            contextOf(readings),
          ),
          1,
        );
        judged.readings.forEach(({ verdict, critical, status }, at) => {
          expect(verdict).not.toBe('rejected');
          if (critical) expect(status).not.toBeNull();
          // Whatever was published without a repeat is published with it.
          if (without.readings[at]?.status !== null) expect(status).not.toBeNull();
        });
      }),
      { numRuns: 1000 },
    );
  });
});

describe('for every set with repeats', () => {
  const choice = fc.record({
    byHand: fc.boolean(),
    low: fc.boolean(),
    shift: fc.integer({ min: -7, max: 7 }),
    minute: fc.constantFrom(0, -2, -4, -6),
    by: fc.constantFrom(null, 'M-1', 'M-2'),
  });
  /** Values in two clusters, so that many agree and many contradict each other. */
  const repeats = fc.oneof(
    fc.array(choice, { minLength: 3, maxLength: 6 }).map((all) =>
      all.map(({ byHand, low, shift, minute, by }) => {
        const change = { takenAt: minutesFromNoon(minute), ...(by !== null && device(by)) };
        const numbers = [(low ? 118 : 152) + shift, 76] as const;
        return byHand ? manualPressure(numbers, change) : cuffPressure(numbers, change);
      }),
    ),
    fc.array(choice, { minLength: 3, maxLength: 6 }).map((all) =>
      all.map(({ byHand, low, shift, minute, by }) => {
        const change = { takenAt: minutesFromNoon(minute), ...(by !== null && device(by)) };
        const value = (low ? 44 : 80) + shift;
        return byHand ? palpatedPulse(value, change) : oximeterPulse(value, change);
      }),
    ),
  );
  const outcome = (judged: JudgedSet) => ({
    own: judged.readings
      .map(({ reading, verdict, hold, status }) =>
        JSON.stringify([
          reading.values,
          reading.method,
          reading.device,
          reading.takenAt,
          verdict,
          hold,
          status,
        ]),
      )
      .sort(),
    resolved: judged.resolved.map(({ readingId }) => readingId).sort(),
    out: [...judged.publishEarlier].sort(),
  });

  it('it comes to the same in whichever order they stand, in the set and before it', () => {
    let released = 0;
    fc.assert(
      fc.property(repeats, fc.nat(5), (readings, cut) => {
        const before = asKept(judgeSet(readings.slice(0, cut)), 1);
        const now = readings.slice(cut);
        if (now.length === 0) return;
        const straight = outcome(judgeSet(now, before));
        expect(outcome(judgeSet(now.toReversed(), before.toReversed()))).toEqual(straight);
        released += straight.resolved.length;
      }),
      { numRuns: 1000 },
    );
    expect(released).toBeGreaterThan(0);
  });

  it('who is left held after a repeat is published where it was before', () => {
    fc.assert(
      fc.property(repeats, (readings) => {
        const context = contextOf(readings);
        const run = makeRuleRunner(RULES.filter(({ id }) => id !== 'resolved-by-repeat'));
        const without = decideVerdicts(context, run(context), 1);
        judge(context).readings.forEach(({ verdict, status }, at) => {
          if (verdict !== 'held') return;
          expect(without.readings[at]).toMatchObject({ verdict: 'held', status });
        });
      }),
      { numRuns: 1000 },
    );
  });
});
