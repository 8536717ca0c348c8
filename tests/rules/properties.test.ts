/** What must hold for every set, whatever is in it. */
import fc from 'fast-check';
import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner, runRules } from '../../src/rules/run.js';
import { findUnitSlip } from '../../src/rules/unit-slips.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import { ageAt } from '../../src/vitals/age.js';
import { isCritical } from '../../src/vitals/interpret.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import { zeroMeaning } from '../../src/vitals/limits-plausible.js';
import type { EarlierReading, Finding, Reading } from '../../src/vitals/shapes.js';
import type { Part, Vital } from '../../src/vitals/words.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  kept,
  linePressure,
  manualPressure,
  minutesFromNoon,
  NOON,
  oximeterPulse,
  palpatedPulse,
  reading,
  respiratoryRate,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { breakRule, judge } from './judge.js';

const whole = (max: number) => fc.integer({ min: -5, max });
const tenths = (min: number, max: number) =>
  fc.integer({ min: min * 10, max: max * 10 }).map((n) => n / 10);
const circumstances = fc.record({
  takenAt: fc.constantFrom(NOON, minutesFromNoon(-3), minutesFromNoon(3), minutesFromNoon(-12)),
  side: fc.constantFrom('left', 'right', null),
  context: fc.constantFrom({}, { confirmed: true }, { regular: false }),
  device: fc.constantFrom(
    null,
    { system: 'urn:example:device', value: 'M-1' },
    { system: 'urn:example:device', value: 'M-2' },
  ),
});
const pressures = fc.tuple(whole(320), whole(240), fc.option(whole(270)));

const numbered: fc.Arbitrary<Reading> = fc.oneof(
  fc.tuple(whole(160), circumstances).map(([v, c]) => respiratoryRate(v, c)),
  fc.tuple(whole(360), circumstances).map(([v, c]) => palpatedPulse(v, c)),
  fc.tuple(whole(360), circumstances).map(([v, c]) => oximeterPulse(v, c)),
  fc.tuple(whole(105), circumstances).map(([v, c]) => saturation(v, c)),
  fc.tuple(tenths(5, 125), circumstances).map(([v, c]) => temperature(v, c)),
  fc.tuple(pressures, circumstances).map(([v, c]) => manualPressure(v, c)),
  fc.tuple(pressures, circumstances).map(([v, c]) => cuffPressure(v, c)),
  fc.tuple(pressures, circumstances).map(([v, c]) => linePressure(v, c)),
  fc.tuple(tenths(0, 700), circumstances).map(([value, c]) => reading('body-weight', { value }, c)),
);
const others: fc.Arbitrary<Reading> = fc.oneof(
  fc
    .constantFrom('alert' as const, 'pain' as const)
    .map((code) => reading('consciousness', {}, { code })),
  fc.constant(reading('body-height', {}, { absent: 'not-done' })),
  fc.constant(reading('pulse-rate', {}, { faults: ['site-not-taken'], site: 'oral' })),
);
const readings = fc.array(fc.oneof({ weight: 6, arbitrary: numbered }, others), {
  minLength: 1,
  maxLength: 6,
});
const birthDates = fc.constantFrom(
  '1961-05-23',
  '2026-03-01',
  '2025-06-30',
  '2019-01-01',
  '2020',
  null,
);
/** The rule that holds two readings of a sign for contradicting each other. */
const DISAGREES: Readonly<Partial<Record<Vital, string>>> = {
  'blood-pressure': 'blood-pressure-methods-disagree',
  'pulse-rate': 'pulse-methods-disagree',
  'body-temperature': 'temperature-sites-disagree',
};
const doubtOf = (rule: string): Finding => ({
  rule,
  verdict: 'held',
  hold: 'value',
  readings: [0],
  message: 'doubted',
  advice: 'measure again',
  source: 'none',
});
const earlier: fc.Arbitrary<readonly EarlierReading[]> = fc
  .array(
    fc.tuple(
      numbered,
      fc.constantFrom(
        { doubted: undefined },
        { verdict: 'held', hold: 'value', status: null, doubted: true } as const,
        { verdict: 'held', hold: 'value', status: 'preliminary', doubted: true } as const,
        { verdict: 'held', hold: 'value', status: null, doubted: false } as const,
      ),
    ),
    { maxLength: 3 },
  )
  .map((all) =>
    all.map(([each, { doubted, ...changes }], i) =>
      kept(each, {
        ...changes,
        readingId: `earlier-${i}`,
        ...(doubted !== undefined && {
          doubts: [
            doubtOf(doubted ? (DISAGREES[each.vital] ?? 'value-doubtful') : 'value-doubtful'),
          ],
        }),
      }),
    ),
  );
const contexts = fc
  .record({ readings, earlier, birthDate: birthDates, attended: fc.boolean() })
  .map(({ readings: all, birthDate, attended, ...rest }) =>
    contextOf(all, {
      ...rest,
      patient: bornOn(birthDate),
      ...(attended ? {} : { source: UNATTENDED }),
    }),
  );

/** What was decided about each reading, findings in no order. */
const outcome = ({ readings: judged, publishEarlier, resolved }: ReturnType<typeof judge>) => ({
  judged: judged.map(({ verdict, hold, status, critical, findings }) => ({
    verdict,
    hold,
    status,
    critical,
    rules: findings.map(({ rule, verdict: asked }) => `${rule} ${asked}`).sort(),
  })),
  publishEarlier: [...publishEarlier].sort(),
  resolved: resolved.map(({ readingId }) => readingId).sort(),
});

describe('for every set', () => {
  it('the verdict does not depend on the order of the readings', () => {
    fc.assert(
      fc.property(contexts, fc.array(fc.nat(), { minLength: 6, maxLength: 6 }), (context, dice) => {
        const drawn = context.set.readings
          .map((each, index) => ({ each, die: dice[index] ?? 0 }))
          .sort((a, b) => a.die - b.die)
          .map(({ each }) => each);
        const order = drawn.map(({ index }) => index);
        const shuffled = drawn.map((each, index) => ({ ...each, index }));
        const turned = { ...context, set: { ...context.set, readings: shuffled } };
        const straight = outcome(judge(context));
        const crossed = outcome(judge(turned));
        expect(crossed.judged).toEqual(order.map((from) => straight.judged[from]));
        expect(crossed.publishEarlier).toEqual(straight.publishEarlier);
        expect(crossed.resolved).toEqual(straight.resolved);
      }),
      { numRuns: 500 },
    );
  });

  it('a rule that throws holds: nothing that it looked at passes', () => {
    fc.assert(
      fc.property(contexts, fc.nat(), (context, pick) => {
        const speaking = RULES.filter(({ stage }) => stage !== 'lift' && stage !== 'resolve');
        const broken = speaking[pick % speaking.length];
        if (broken === undefined) throw new Error('no rule');
        const run = makeRuleRunner(breakRule(broken.id));
        const judged = decideVerdicts(context, run(context), 1);
        for (const { reading: each, verdict } of judged.readings) {
          const concerned = broken.appliesTo?.includes(each.vital) ?? true;
          if (concerned) expect(['held', 'rejected']).toContain(verdict);
        }
      }),
      { numRuns: 500 },
    );
  });

  it('rejected stays rejected whatever else arrives', () => {
    fc.assert(
      fc.property(numbered, readings, birthDates, (one, company, birthDate) => {
        const patient = bornOn(birthDate);
        if (judge(contextOf([one], { patient })).readings[0]?.verdict !== 'rejected') return;
        const together = judge(contextOf([one, ...company], { patient }));
        expect(together.readings[0]?.verdict).toBe('rejected');
        expect(judge(contextOf([one, ...company], { patient: null })).readings[0]?.verdict).toBe(
          'rejected',
        );
      }),
      { numRuns: 500 },
    );
  });

  it('only the named rules lift a hold', () => {
    const lifting = ['lift', 'resolve'];
    const withoutLifts = makeRuleRunner(RULES.filter(({ stage }) => !lifting.includes(stage)));
    const named = /^(value-(confirmed|corroborated)|resolved-by-repeat)$/;
    fc.assert(
      fc.property(contexts, (context) => {
        const after = runRules(context);
        for (const before of withoutLifts(context)) {
          if (before.verdict !== 'held') {
            expect(after).toContainEqual(before);
            continue;
          }
          const still = after.filter(
            ({ rule, message }) => rule === before.rule && message.startsWith(before.message),
          );
          for (const index of before.readings) {
            const [finding] = still.filter(({ readings: about }) => about.includes(index));
            if (finding?.verdict === 'held') expect(finding.hold).toBe(before.hold);
            else expect(finding?.figures?.liftedBy).toMatch(named);
          }
          if (before.readings.length === 0) expect(still).toEqual([before]);
        }
      }),
      { numRuns: 500 },
    );
  });

  it('of earlier readings only those that a disagreement alone holds are released', () => {
    fc.assert(
      fc.property(contexts, (context) => {
        for (const { readingId, finding } of judge(context).resolved) {
          const released = context.earlier.find((each) => each.readingId === readingId);
          if (released === undefined) throw new Error('nothing of that id was kept');
          expect(released).toMatchObject({ verdict: 'held', hold: 'value' });
          expect(released.doubts?.map(({ rule }) => rule)).toEqual([DISAGREES[released.vital]]);
          expect(finding.rule).toBe('resolved-by-repeat');
          expect(finding.readings.length).toBeGreaterThan(0);
        }
      }),
      { numRuns: 2000 },
    );
  });

  it('no value between its reject bounds is rejected for its size', () => {
    fc.assert(
      fc.property(numbered, birthDates, (one, birthDate) => {
        const { vital, values, method } = one;
        if (vital === 'consciousness') return;
        const age = ageAt(birthDate, one.takenAt);
        const isWithin = (part: Part): boolean => {
          const value = values[part]?.number;
          if (value === undefined) return true;
          const { rejectBelow, rejectAbove } = DEFAULT_LIMITS.plausible(vital, part, method, age);
          return value >= (rejectBelow?.at ?? -Infinity) && value <= (rejectAbove?.at ?? Infinity);
        };
        if (!(['value', 'systolic', 'diastolic', 'mean'] as const).every(isWithin)) return;
        // The exceptions that the contract names, and a fraction, which is another unit.
        const { systolic, diastolic } = values;
        if (systolic && diastolic && systolic.number <= diastolic.number) return;
        const noSignal = Object.entries(values).some(
          ([part, { number }]) =>
            number === 0 && zeroMeaning(vital, part as Part, method) === 'no-signal',
        );
        if (noSignal || findUnitSlip(one, age, DEFAULT_LIMITS) === 'fraction') return;
        expect(judge(contextOf([one], { patient: bornOn(birthDate) })).verdict).not.toBe(
          'rejected',
        );
      }),
      { numRuns: 2000 },
    );
  });

  it('no critical value of a known patient is unpublished, save for a suspected unit', () => {
    fc.assert(
      fc.property(contexts, (context) => {
        const judged = judge(context);
        for (const { reading: each, verdict, hold, critical, status } of judged.readings) {
          const age = ageAt(context.patient?.birthDate ?? null, each.takenAt);
          if (verdict === 'rejected' || hold === 'unit' || hold === 'identity') continue;
          expect(critical).toBe(isCritical(each, age, 'female', DEFAULT_LIMITS));
          if (critical) expect(status).not.toBeNull();
        }
      }),
      { numRuns: 1000 },
    );
  });

  it('both sides of a disagreement go out where one of them is critical', () => {
    fc.assert(
      fc.property(contexts, (context) => {
        const judged = judge(context);
        for (const finding of judged.findings) {
          if (finding.hold !== 'value' || !finding.rule.includes('disagree')) continue;
          const sides = judged.readings.filter(({ reading: { index } }) =>
            finding.readings.includes(index),
          );
          if (sides.some(({ hold }) => hold !== 'value')) continue;
          if (sides.some(({ critical }) => critical)) {
            expect(sides.map(({ status }) => status)).toEqual(sides.map(() => 'preliminary'));
            for (const each of context.earlier) {
              if (!finding.earlier?.includes(each.readingId) || each.status !== null) continue;
              const released = judged.resolved.map(({ readingId }) => readingId);
              expect([...judged.publishEarlier, ...released]).toContain(each.readingId);
            }
          }
        }
      }),
      { numRuns: 1000 },
    );
  });
});
