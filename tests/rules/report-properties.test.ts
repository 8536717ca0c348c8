/** What must hold for every message of a device, whatever its reader doubts and whose the device was. */
import fc from 'fast-check';
import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner } from '../../src/rules/run.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import { IDENTITY_DOUBTS, REPORT_DOUBTS, SIGNAL_DOUBTS } from '../../src/vitals/device-report.js';
import { ageAt } from '../../src/vitals/age.js';
import { isCritical } from '../../src/vitals/interpret.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { DeviceFacts, JudgedSet, JudgingContext, Reading } from '../../src/vitals/shapes.js';
import {
  ADULT,
  contextOf,
  cuffPressure,
  kept,
  minutesFromNoon,
  NOON,
  oximeterPulse,
  palpatedPulse,
  respiratoryRate,
  saturation,
  temperature,
} from './build-context.js';
import { breakRule, judge } from './judge.js';

const DEVICES = ['MON-4', 'MON-5'].map((value) => ({ system: 'urn:example:device', value }));
/** Often none, often one, so that much is sound and much is doubted for one reason. */
const some = <T>(all: readonly T[]) =>
  fc.oneof(
    { weight: 5, arbitrary: fc.constant([]) },
    { weight: 4, arbitrary: fc.constantFrom(...all).map((one) => [one]) },
    { weight: 1, arbitrary: fc.subarray([...all], { maxLength: 3 }) },
  );
const report = fc.record(
  {
    at: fc.constantFrom('OBX 1', 'OBX 7'),
    channel: fc.constantFrom('1.2.1', '1.2.2'),
    doubts: some(REPORT_DOUBTS),
    signal: some(SIGNAL_DOUBTS),
    reviewed: fc.boolean(),
    deviceTime: fc.constantFrom('2026-03-14T12:00:31+01:00', '2026-03-14T11:00:00Z'),
  },
  { requiredKeys: ['at'] },
);
const circumstances = fc
  .record({
    takenAt: fc.constantFrom(...[0, -1, -3, -7].map(minutesFromNoon)),
    device: fc.constantFrom(null, ...DEVICES),
    report: fc.option(report, { nil: undefined, freq: 5 }),
  })
  .map(({ report: told, ...rest }) => ({ ...rest, ...(told && { report: told }) }));
const near = (min: number, max: number) => fc.integer({ min, max });
const numbered: fc.Arbitrary<Reading> = fc.oneof(
  fc.tuple(near(70, 100), circumstances).map(([v, c]) => saturation(v, c)),
  fc.tuple(near(30, 160), circumstances).map(([v, c]) => oximeterPulse(v, c)),
  fc.tuple(near(30, 160), circumstances).map(([v, c]) => palpatedPulse(v, c)),
  fc.tuple(near(4, 40), circumstances).map(([v, c]) => respiratoryRate(v, c)),
  fc.tuple(near(330, 410), circumstances).map(([v, c]) => temperature(v / 10, c)),
  fc
    .tuple(near(70, 230), near(20, 60), circumstances)
    .map(([s, by, c]) => cuffPressure([s, s - by], c)),
);
const unread = circumstances.map((c) =>
  temperature(0, {
    ...c,
    values: {},
    report: { at: 'OBX 9', doubts: ['value-unreadable'], asSent: '37,1' },
  }),
);
const readings = fc.array(fc.oneof({ weight: 8, arbitrary: numbered }, unread), {
  minLength: 1,
  maxLength: 6,
});
const association = fc
  .record({
    fromMin: fc.constantFrom(-60, -7, -3, -1),
    toMin: fc.constantFrom(null, -3, -1, 0),
    ofThisPatient: fc.boolean(),
  })
  .map(({ fromMin, toMin, ofThisPatient }) => ({
    fromMs: minutesFromNoon(fromMin).epochMs,
    toMs: toMin === null ? null : minutesFromNoon(toMin).epochMs,
    ofThisPatient,
  }));
const facts = (device: DeviceFacts['device']): fc.Arbitrary<DeviceFacts> =>
  fc.record({
    device: fc.constant(device),
    registered: fc.constantFrom(
      null,
      { signs: null, disabled: false, timeAccuracyMs: null },
      { signs: ['pulse-rate' as const], disabled: false, timeAccuracyMs: 120_000 },
      { signs: null, disabled: true, timeAccuracyMs: null },
    ),
    associations: fc.array(association, { maxLength: 2 }),
    clock: fc.constantFrom(null, { offsetMs: 300, seenAtMs: NOON.epochMs }),
  });
const claims = fc.record({
  by: fc.constantFrom('named' as const, 'named' as const, 'association' as const),
  doubts: fc.oneof(
    { weight: 9, arbitrary: fc.constant([]) },
    fc.constantFrom(...IDENTITY_DOUBTS).map((one) => [one]),
  ),
});
const earlier = fc
  .array(numbered, { maxLength: 3 })
  .map((all) => all.map((each, i) => kept(each, { readingId: `earlier-${i}` })));
const source = fc.record({
  attended: fc.boolean(),
  secondIdentifierRequired: fc.constant(false),
  synchronised: fc.boolean(),
  skewMs: fc.constantFrom(0, 90_000, -400_000),
});
const contexts: fc.Arbitrary<JudgingContext> = fc
  .record({
    readings,
    earlier,
    source,
    claim: claims,
    devices: fc.tuple(...DEVICES.map(facts)),
  })
  .map(({ readings: all, claim, ...rest }) =>
    contextOf(all, { ...rest, receivedAtMs: NOON.epochMs, set: { claim } }),
  );

/** Readings in another order, or some of them only, under new places. */
const withReadings = (context: JudgingContext, picked: readonly Reading[]): JudgingContext => ({
  ...context,
  set: { ...context.set, readings: picked.map((each, index) => ({ ...each, index })) },
});
const outcomeOf = ({ verdict, hold, status, critical, interpretation, findings }: Judged) => ({
  ...{ verdict, hold, status, critical, interpretation },
  rules: findings.map(({ rule, verdict: asked }) => `${rule} ${asked}`).sort(),
});
type Judged = JudgedSet['readings'][number];

/** Nothing else rejects what is between its bounds; see also `properties.test.ts`. */
const REJECTING = [
  'test-data',
  'setting-not-measurement',
  'value-unreadable',
  'before-association',
];

describe('for every message of a device', () => {
  it('no critical value of a known patient is withheld, save for whose it is, or as no measurement', () => {
    let seen = 0;
    fc.assert(
      fc.property(contexts, (context) => {
        for (const { reading, verdict, hold, status, findings } of judge(context).readings) {
          const age = ageAt(ADULT.birthDate, reading.takenAt);
          if (!isCritical(reading, age, ADULT.gender, DEFAULT_LIMITS)) continue;
          if (verdict === 'rejected') {
            const by = findings.filter((each) => each.verdict === 'rejected');
            expect(by.map(({ rule }) => rule).filter((id) => !REJECTING.includes(id))).toEqual([]);
            continue;
          }
          if (hold === 'identity') continue;
          expect(status).not.toBeNull();
          seen += 1;
        }
      }),
      { numRuns: 1500 },
    );
    expect(seen).toBeGreaterThan(500);
  });

  it('a doubt about whose it is lets nothing out, and no other rule makes one', () => {
    const asking = RULES.filter((rule) => 'asksWho' in rule).map(({ id }) => id);
    fc.assert(
      fc.property(contexts, (context) => {
        for (const { hold, status, findings } of judge(context).readings) {
          const doubts = findings.filter((each) => each.hold === 'identity');
          expect(asking).toEqual(expect.arrayContaining(doubts.map(({ rule }) => rule)));
          if (hold === 'identity') expect(status).toBeNull();
        }
      }),
      { numRuns: 500 },
    );
  });

  it('the verdict does not depend on the order of the readings', () => {
    fc.assert(
      fc.property(contexts, fc.array(fc.nat(), { minLength: 6, maxLength: 6 }), (context, dice) => {
        const turned = [...context.set.readings].sort(
          (a, b) => (dice[a.index] ?? 0) - (dice[b.index] ?? 0) || a.index - b.index,
        );
        const straight = judge(context);
        const crossed = judge(withReadings(context, turned));
        expect(crossed.readings.map(outcomeOf)).toEqual(
          turned
            .map(({ index }) => straight.readings[index])
            .map((each) => each && outcomeOf(each)),
        );
        expect([...crossed.publishEarlier].sort()).toEqual([...straight.publishEarlier].sort());
      }),
      { numRuns: 700 },
    );
  });

  it('a reading that may be another’s changes nothing for those that are not', () => {
    let mixed = 0;
    fc.assert(
      fc.property(contexts, (context) => {
        const all = judge(context).readings;
        const sure = all.filter(({ findings }) =>
          findings.every(({ hold }) => hold !== 'identity'),
        );
        if (sure.length === all.length || sure.length === 0) return;
        mixed += 1;
        const alone = judge(
          withReadings(
            context,
            sure.map(({ reading }) => reading),
          ),
        );
        expect(alone.readings.map(outcomeOf)).toEqual(sure.map(outcomeOf));
      }),
      { numRuns: 1000 },
    );
    expect(mixed).toBeGreaterThan(50);
  });

  it('a signal that its device doubts is never final', () => {
    fc.assert(
      fc.property(contexts, (context) => {
        for (const { reading, status } of judge(context).readings) {
          if ((reading.report?.signal ?? []).length > 0) expect(status).not.toBe('final');
        }
      }),
      { numRuns: 300 },
    );
  });

  it('a rule that throws holds, and withholds nothing critical', () => {
    const speaking = RULES.filter(({ stage }) => stage !== 'lift' && stage !== 'resolve');
    fc.assert(
      fc.property(contexts, fc.constantFrom(...speaking), (context, broken) => {
        const findings = makeRuleRunner(breakRule(broken.id))(context);
        for (const each of decideVerdicts(context, findings, 1).readings) {
          const concerned = broken.appliesTo?.includes(each.reading.vital) ?? true;
          if (concerned) expect(['held', 'rejected']).toContain(each.verdict);
          if (each.critical && each.hold === 'value') expect(each.status).toBe('preliminary');
        }
      }),
      { numRuns: 500 },
    );
  });
});
