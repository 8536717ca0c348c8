/** Reads the table of bounds for a patient: born when, of which sex, measured on the day of the readings. */
import type { Gender, Interpretation } from '../../src/vitals/words.js';
import type { SexedSteps, SignTable, Steps, Until } from './boundary-table.js';

/** All boundary sets are measured on this day. */
const DAY = { year: 2026, month: 3, day: 16 };

/** The birth date of who reaches an age on the day of the reading, or will on the day after it. */
function bornFor(until: Until, daysLater: 0 | 1): string {
  const [count, unit] = (until ?? '0 d').split(' ');
  const age = Number(count);
  const months = unit === 'd' ? 0 : unit === 'mo' ? age : age * 12;
  const days = (unit === 'd' ? age : 0) - daysLater;
  return new Date(Date.UTC(DAY.year, DAY.month - 1 - months, DAY.day - days))
    .toISOString()
    .slice(0, 10);
}

/** Of two ends the earlier has the later birth date; none at all comes last. */
const birth = (until: Until): string => (until === null ? '' : bornFor(until, 0));

/** The number of the band of somebody who was born on that day. */
function at(steps: Steps, born: string): number | null {
  const found = steps.find(([until]) => born > birth(until));
  if (found === undefined) throw new Error('the last band must have no end');
  return found[1];
}

export const isSexed = (steps: Steps | SexedSteps): steps is SexedSteps => 'male' in steps;

/** Of a sex that is not told the lower figure counts. */
function usualTo({ usualTo: steps }: SignTable, born: string, gender: Gender): number | null {
  if (!isSexed(steps)) return at(steps, born);
  const male = at(steps.male, born);
  const female = at(steps.female, born);
  if (gender === 'male') return male;
  if (gender === 'female') return female;
  return male === null || female === null ? null : Math.min(male, female);
}

export interface Bounds {
  readonly criticalLow: number | null;
  readonly usualFrom: number | null;
  readonly usualTo: number | null;
  readonly criticalHigh: number | null;
  readonly possibleFrom: number;
  readonly passesFrom: number | null;
  readonly passesTo: number | null;
  readonly possibleTo: number;
}

export function boundsOf(sign: SignTable, born: string, gender: Gender): Bounds {
  return {
    criticalLow: at(sign.criticalLow, born),
    usualFrom: at(sign.usualFrom, born),
    usualTo: usualTo(sign, born, gender),
    criticalHigh: at(sign.criticalHigh, born),
    possibleFrom: sign.possibleFrom,
    passesFrom: at(sign.passesFrom, born),
    passesTo: at(sign.passesTo, born),
    possibleTo: sign.possibleTo,
  };
}

export const below = (value: number, bound: number | null) => bound !== null && value < bound;
export const above = (value: number, bound: number | null) => bound !== null && value > bound;

export function codeOf(value: number, bounds: Bounds): Interpretation | null {
  if (bounds.usualFrom === null && bounds.usualTo === null) return null;
  if (bounds.criticalLow !== null && !above(value, bounds.criticalLow)) return 'LL';
  if (bounds.criticalHigh !== null && !below(value, bounds.criticalHigh)) return 'HH';
  if (below(value, bounds.usualFrom)) return 'L';
  return above(value, bounds.usualTo) ? 'H' : 'N';
}

/** First and last day of every band that any bound of the sign knows, and a long life. */
export function birthDatesOf(sign: SignTable): readonly string[] {
  const { usualTo: usual } = sign;
  const all = [
    sign.criticalLow,
    sign.usualFrom,
    ...(isSexed(usual) ? [usual.male] : [usual]),
    sign.criticalHigh,
    sign.passesFrom,
    sign.passesTo,
  ].flatMap((steps) => steps.map(([until]) => until));
  const edges = all.filter((until) => until !== null);
  return [
    ...new Set([
      bornFor('0 d', 0),
      ...edges.flatMap((until) => [bornFor(until, 1), bornFor(until, 0)]),
      bornFor('100 y', 0),
    ]),
  ]
    .sort()
    .reverse();
}
