import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner } from '../../src/rules/run.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import { differInHistory, rulesLookingBack } from '../../src/vitals/limits-history.js';
import { limitsOf } from '../../src/vitals/site-rules.js';
import type { JudgingContext } from '../../src/vitals/shapes.js';
import {
  contextOf,
  cuffPressure,
  palpatedPulse,
  reading,
  saturation,
  temperature,
} from './build-context.js';

const source = { document: 'Larkfield, ward rules', section: '2' };

/** A context that tells whether its history was looked at. */
function watched(context: JudgingContext): { context: JudgingContext; looked: () => boolean } {
  let looked = false;
  const { history } = context;
  const spy = Object.defineProperty({ ...context }, 'history', {
    enumerable: true,
    get: () => {
      looked = true;
      return history;
    },
  });
  return { context: spy, looked: () => looked };
}

describe('rules that look back on the patient’s own readings', () => {
  it('are those that a trial takes for such: none looks back without a window of its own', () => {
    const known = rulesLookingBack(DEFAULT_LIMITS);
    const found = RULES.filter((rule) => {
      const { context, looked } = watched(
        contextOf([
          cuffPressure([142, 91]),
          palpatedPulse(88),
          saturation(93),
          temperature(38.2),
          reading('body-weight', { value: 70 }),
        ]),
      );
      makeRuleRunner([rule])(context);
      return looked();
    });
    expect(found.length).toBeGreaterThan(3);
    for (const { id } of found) expect([id, known.has(id)]).toEqual([id, true]);
  });

  it('only note: where a trial does not ask them again, what they noted stands', () => {
    const known = rulesLookingBack(DEFAULT_LIMITS);
    const rules = RULES.filter(({ id }) => known.has(id));
    expect(rules).toHaveLength(known.size);
    expect(rules.filter(({ verdict }) => verdict !== 'noted')).toEqual([]);
  });

  it('are concerned by a change of their own numbers and switches, and by no other', () => {
    const changed = (id: string, at: number, unit: '/min' | 'Cel') =>
      limitsOf({ settings: { [id]: { at, unit, source } } });
    expect(differInHistory(DEFAULT_LIMITS, limitsOf({}))).toBe(false);
    expect(
      differInHistory(DEFAULT_LIMITS, changed('pulse-methods-disagree.difference', 22, '/min')),
    ).toBe(false);
    expect(
      differInHistory(DEFAULT_LIMITS, changed('body-temperature-changed.difference', 2, 'Cel')),
    ).toBe(true);
    const switched = limitsOf({ rules: { 'pulse-rate-changed': { enabled: false } } });
    expect(differInHistory(DEFAULT_LIMITS, switched)).toBe(true);
  });
});
