import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner } from '../../src/rules/run.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import {
  contextOf,
  cuffPressure,
  kept,
  manualPressure,
  minutesFromNoon,
  palpatedPulse,
  saturation,
  temperature,
} from './build-context.js';
import { breakRule } from './judge.js';

const withBroken = (id: string) => makeRuleRunner(breakRule(id));

describe('a rule that throws', () => {
  it('holds the reading that it was looking at, and names itself', () => {
    const failed: string[] = [];
    const context = contextOf([temperature(37.2), saturation(97)]);
    const findings = withBroken('fahrenheit-suspected')(context, (id) => failed.push(id));
    expect(findings).toMatchObject([
      {
        rule: 'fahrenheit-suspected',
        verdict: 'held',
        hold: 'value',
        readings: [0],
        message: expect.stringContaining(
          'The rule fahrenheit-suspected could not be worked out',
        ) as string,
      },
    ]);
    expect(failed).toEqual(['fahrenheit-suspected']);
    expect(decideVerdicts(context, findings, 1).readings.map(({ verdict }) => verdict)).toEqual([
      'held',
      'accepted',
    ]);
  });

  it('holds the readings of its signs where it looks across them', () => {
    const context = contextOf([cuffPressure([120, 80]), saturation(97), manualPressure([122, 78])]);
    const findings = withBroken('blood-pressure-methods-differ')(context);
    expect(findings).toMatchObject([{ readings: [0, 2], verdict: 'held' }]);
  });

  it('costs nothing where its signs are not in the set', () => {
    expect(withBroken('pulse-methods-differ')(contextOf([saturation(97)]))).toEqual([]);
  });

  it('holds each reading where it asks who or when', () => {
    const context = contextOf([saturation(97), temperature(37.2)]);
    const findings = withBroken('time-in-future')(context);
    expect(findings).toMatchObject([{ readings: [], verdict: 'held', hold: 'value' }]);
    expect(decideVerdicts(context, findings, 1).verdict).toBe('held');
  });

  it('lets a critical reading go out', () => {
    const context = contextOf([saturation(82)]);
    const judged = decideVerdicts(context, withBroken('value-doubtful')(context), 1);
    expect(judged.readings[0]).toMatchObject({ verdict: 'held', status: 'preliminary' });
  });

  it('is not lifted by a confirmation', () => {
    const context = contextOf([temperature(42.4, { context: { confirmed: true } })]);
    const findings = withBroken('value-doubtful')(context);
    expect(decideVerdicts(context, findings, 1).verdict).toBe('held');
  });

  it('leaves the hold in place where it was to lift it', () => {
    const failed: string[] = [];
    const context = contextOf([temperature(42.4, { context: { confirmed: true } })]);
    const findings = withBroken('value-confirmed')(context, (id) => failed.push(id));
    expect(findings[0]).toMatchObject({ rule: 'value-doubtful', verdict: 'held', hold: 'value' });
    expect(failed).toEqual(['value-confirmed']);
  });

  it('stops no other rule', () => {
    const context = contextOf([palpatedPulse(400)]);
    const findings = withBroken('value-not-whole')(context);
    expect(findings.map(({ rule }) => rule)).toEqual(['value-impossible', 'value-not-whole']);
    expect(decideVerdicts(context, findings, 1).verdict).toBe('rejected');
  });
});

describe('a lifted hold', () => {
  it('keeps its rule, its source and the earlier reading that lifted it', () => {
    const earlier = kept(cuffPressure([256, 138], { takenAt: minutesFromNoon(-1) }));
    const context = contextOf([manualPressure([254, 140])], { earlier: [earlier] });
    const [lifted] = makeRuleRunner(RULES)(context);
    expect(lifted).toMatchObject({
      rule: 'value-doubtful',
      verdict: 'noted',
      readings: [0],
      earlier: [earlier.readingId],
      source: expect.stringContaining('OHDSI') as string,
    });
  });
});
