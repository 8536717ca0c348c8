/**
 * Each bound of each age band: at it, one step inside, one step outside, on the first and on the last day
 * of the band. Verdict and interpretation must be what the table typed from the publications says.
 */
import type { Gender, Verdict } from '../../src/vitals/words.js';
import { SIGNS } from './boundary-table.js';
import { above, below, birthDatesOf, boundsOf, codeOf, isSexed, type Bounds } from './bounds-at.js';
import { judgeCase } from './judge-case.js';

const TAKEN_AT = '2026-03-16T10:00:00+01:00';
/** "held LL preliminary": verdict, code and what goes out at once. */
function expected(value: number, bounds: Bounds, meanAlone: boolean): string {
  if (below(value, bounds.possibleFrom) || above(value, bounds.possibleTo)) return 'rejected - -';
  const code = codeOf(value, bounds);
  const critical = code === 'LL' || code === 'HH';
  const held = below(value, bounds.passesFrom) || above(value, bounds.passesTo);
  const verdict: Verdict = held ? 'held' : critical ? 'noted' : 'accepted';
  // A mean alone has no code, and beyond its hold bounds is not withheld for want of one.
  const status = !held ? 'final' : critical || meanAlone ? 'preliminary' : '-';
  return `${verdict} ${code ?? '-'} ${status}`;
}

function judged(reading: object, birthDate: string | null, gender: Gender): string {
  const set = {
    setId: '7d0a9c52-4a55-4f0e-8f1b-61c7a3f2b9d4',
    patient: { identifier: { system: 'urn:example:mrn', value: 'LF-40001' }, familyName: 'Merrow' },
    takenAt: TAKEN_AT,
    readings: [reading],
  };
  const [said] = judgeCase({
    name: 'a boundary',
    patient: { birthDate, familyName: 'Merrow', gender },
    sets: [
      {
        receivedAt: TAKEN_AT,
        set,
        expect: { verdict: 'accepted', readings: [], findings: [] },
      },
    ],
  });
  const [one] = said?.readings ?? [];
  const [code] = Object.values(one?.interpretation ?? {});
  return `${one?.verdict ?? ''} ${code ?? '-'} ${one?.status ?? '-'}`;
}

/** At each bound, one step inside and one step outside. */
function valuesAround(bounds: Bounds, step: number): readonly number[] {
  const near = Object.values(bounds)
    .filter((bound: number | null) => bound !== null)
    .flatMap((bound: number) => [bound - step, bound, bound + step]);
  return [...new Set(near.map((value) => Math.round(value * 10) / 10))];
}

const GENDERS: readonly Gender[] = ['male', 'female', null];
let judgedSets = 0;

describe.each(SIGNS)('the bounds of $name', (sign) => {
  it.each(birthDatesOf(sign))('of somebody born on %s', (born) => {
    const wrong: string[] = [];
    for (const gender of isSexed(sign.usualTo) ? GENDERS : (['female'] as const)) {
      const bounds = boundsOf(sign, born, gender);
      for (const value of valuesAround(bounds, sign.step)) {
        const said = judged(sign.reading(value), born, gender);
        const should = expected(value, bounds, sign.name.startsWith('mean'));
        if (said !== should) wrong.push(`${gender ?? 'no sex'} ${value}: ${said}, not ${should}`);
        judgedSets += 1;
      }
    }
    expect(wrong).toEqual([]);
  });
});

describe('a patient whose age is not known', () => {
  it.each(SIGNS)('has no code for $name, and the widest hold bounds of all ages', (sign) => {
    const all = birthDatesOf(sign).map((born) => boundsOf(sign, born, null));
    const widest = (pick: (bounds: Bounds) => number | null, of: 'min' | 'max') => {
      const numbers = all.map(pick);
      return numbers.some((each) => each === null)
        ? null
        : Math[of](...numbers.map((each) => each ?? 0));
    };
    const passesFrom = widest((bounds) => bounds.passesFrom, 'min');
    const passesTo = widest((bounds) => bounds.passesTo, 'max');
    const { possibleFrom, possibleTo, step } = sign;
    const unknown = { possibleFrom, possibleTo, passesFrom, passesTo };
    const none = { criticalLow: null, usualFrom: null, usualTo: null, criticalHigh: null };
    const wrong = valuesAround({ ...none, ...unknown }, step).flatMap((value) => {
      const said = judged(sign.reading(value), null, null);
      const possible = value >= possibleFrom && value <= possibleTo;
      const held = below(value, passesFrom) || above(value, passesTo);
      const should = !possible ? 'rejected' : held ? 'held' : '(accepted|noted)';
      return new RegExp(`^${should} - `).test(said) ? [] : [`${value}: ${said}, not ${should}`];
    });
    expect(wrong).toEqual([]);
  });
});

it('that makes more than 9,000 sets', () => {
  expect(judgedSets).toBeGreaterThan(9_000);
});
