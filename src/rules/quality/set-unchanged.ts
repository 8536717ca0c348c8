import { IDENTICAL_SETS } from '../../vitals/limits-sources-measuring.js';
import type { PastReading, Reading } from '../../vitals/shapes.js';
import { PARTS } from '../../vitals/words.js';
import { timeBefore } from '../own-values.js';
import { NO_REMARKS, type AcrossRule } from '../rule.js';

/** How many numbers of the reading one of these has, all of them alike; null: none of these is alike. */
function numbersAlike(reading: Reading, before: readonly PastReading[]): number | null {
  const told = PARTS.filter((part) => reading.values[part] !== undefined);
  const alike = before.some(
    (past) =>
      past.vital === reading.vital &&
      past.method === reading.method &&
      past.site === reading.site &&
      past.side === reading.side &&
      PARTS.every((part) => past.values[part]?.number === reading.values[part]?.number),
  );
  return alike ? told.length : null;
}

/** The readings of the last moment before the set at which any were taken, if that is in the window. */
function lastBefore(
  takenAtMs: number,
  history: readonly PastReading[],
  windowMs: readonly [after: number, within: number],
): readonly PastReading[] {
  const last = history.findLast(({ takenAt }) => takenAt.epochMs < takenAtMs);
  if (last === undefined) return [];
  const agoMs = takenAtMs - last.takenAt.epochMs;
  if (agoMs <= windowMs[0] || agoMs > windowMs[1]) return [];
  return history.filter(({ takenAt }) => takenAt.epochMs === last.takenAt.epochMs);
}

export const setUnchanged: AcrossRule = {
  id: 'set-unchanged',
  stage: 'across',
  verdict: 'noted',
  words: 'Every number of the set is that of the set before.',
  source: IDENTICAL_SETS,
  since: 1,
  check: ({ set, history, limits }, standing) => {
    if (history.length === 0) return NO_REMARKS;
    const before = lastBefore(set.takenAt.epochMs, history, [
      limits.ms('set-unchanged.after'),
      limits.ms('set-unchanged.window'),
    ]);
    const [last] = before;
    if (last === undefined) return NO_REMARKS;
    const measured = standing
      .map(({ reading }) => reading)
      .filter(({ values }) => Object.keys(values).length > 0);
    let numbers = 0;
    for (const reading of measured) {
      const alike = numbersAlike(reading, before);
      if (alike === null) return NO_REMARKS;
      numbers += alike;
    }
    const { at: limit, source } = limits.setting('set-unchanged.numbers');
    if (numbers < limit) return NO_REMARKS;
    return [
      {
        readings: measured.map(({ index }) => index),
        message: `All ${numbers} numbers are those of the set before, at ${timeBefore(last.takenAt, set.takenAt)}.`,
        discreetMessage: 'All numbers are those of the set before.',
        advice: 'Check that this is a new measurement and not the old one sent again.',
        figures: { value: numbers, limit, unit: '1' },
        sources: [source],
      },
    ];
  },
};
