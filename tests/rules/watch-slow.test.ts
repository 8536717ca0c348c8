import { RULES } from '../../src/rules/index.js';
import type { Rule } from '../../src/rules/rule.js';
import { runRules } from '../../src/rules/run.js';
import { makeWatchedRunner } from '../../src/rules/watch-slow.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import { contextOf, palpatedPulse, saturation, temperature } from './build-context.js';

/** A clock that goes on only when something takes time. */
class Clock {
  ms = 0;
  readonly now = (): number => this.ms;
}

/** The rules, one of which takes so long each time that it is asked. */
function withSlow(id: string, clock: Clock, tookMs: number): readonly Rule[] {
  return RULES.map((rule) => {
    if (rule.id !== id) return rule;
    const check = rule.check as (...asked: never[]) => unknown;
    const slow = (...asked: never[]): unknown => {
      clock.ms += tookMs;
      return check(...asked);
    };
    return { ...rule, check: slow } as Rule;
  });
}

function judge(rules: readonly Rule[], clock: Clock, ...readings: Parameters<typeof contextOf>[0]) {
  const slow: string[] = [];
  const failed: string[] = [];
  const context = contextOf(readings);
  const run = makeWatchedRunner(rules, { now: clock.now, onSlow: (id) => slow.push(id) });
  const findings = run(context, (id) => failed.push(id));
  return { context, findings, slow, failed };
}

describe('a rule that takes long', () => {
  it('costs a held finding with its name, and what it said stands', () => {
    const clock = new Clock();
    const { context, findings, slow } = judge(
      withSlow('value-impossible', clock, 60),
      clock,
      palpatedPulse(400),
      saturation(97),
    );
    expect(slow).toEqual(['value-impossible']);
    expect(findings).toContainEqual(
      expect.objectContaining({
        rule: 'value-impossible',
        verdict: 'held',
        hold: 'value',
        failed: true,
        message: expect.stringContaining('took too long') as string,
      }),
    );
    const verdicts = decideVerdicts(context, findings, 1).readings.map(({ verdict }) => verdict);
    expect(verdicts).toEqual(['rejected', 'held']);
  });

  it('is added up over the readings of a set', () => {
    const clock = new Clock();
    const rules = withSlow('value-doubtful', clock, 30);
    expect(judge(rules, clock, saturation(97)).slow).toEqual([]);
    expect(judge(rules, clock, saturation(97), temperature(37.1)).slow).toEqual(['value-doubtful']);
  });

  it('holds the readings of its own signs only', () => {
    const clock = new Clock();
    const rules = withSlow('fahrenheit-suspected', clock, 60);
    const { context, findings } = judge(rules, clock, saturation(97), temperature(37.1));
    const verdicts = decideVerdicts(context, findings, 1).readings.map(({ verdict }) => verdict);
    expect(verdicts).toEqual(['accepted', 'held']);
  });

  it('is told apart from a machine that paused once', () => {
    const clock = new Clock();
    let pauses = 1;
    const rules = RULES.map((rule) => {
      if (rule.id !== 'value-doubtful') return rule;
      const check = rule.check as (...asked: never[]) => unknown;
      const pausing = (...asked: never[]): unknown => {
        if (pauses > 0) clock.ms += 500;
        pauses -= 1;
        return check(...asked);
      };
      return { ...rule, check: pausing } as Rule;
    });
    const { context, findings, slow } = judge(rules, clock, saturation(97), temperature(42.4));
    expect(slow).toEqual([]);
    expect(findings).toEqual(runRules(context));
  });

  it('that throws is told of once, though the set is judged again', () => {
    const clock = new Clock();
    const rules = withSlow('value-doubtful', clock, 60).map((rule) =>
      rule.id === 'value-critical'
        ? {
            ...rule,
            check: () => {
              throw new Error('broken');
            },
          }
        : rule,
    );
    const { failed, slow } = judge(rules, clock, saturation(97));
    expect(failed).toEqual(['value-critical']);
    expect(slow).toEqual(['value-doubtful']);
  });
});
