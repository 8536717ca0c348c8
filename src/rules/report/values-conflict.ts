import { CONTAINMENT } from '../../vitals/limits-sources-devices.js';
import type { Reading } from '../../vitals/shapes.js';
import { hasDoubt } from '../report-doubts.js';
import { subjectOf } from '../report-rule.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

function isOfOnePlace(a: Reading, b: Reading): boolean {
  return (
    a.vital === b.vital &&
    a.method === b.method &&
    a.site === b.site &&
    a.side === b.side &&
    a.takenAt.epochMs === b.takenAt.epochMs
  );
}

/** What is read as several values of one measurement stands in one finding: one goes out with the other. */
export const valuesConflict: SetRule = {
  id: 'values-conflict',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'A message brought different values for one and the same measurement.',
  source: CONTAINMENT,
  since: 1,
  check: ({ set }) => {
    if (!set.readings.some((reading) => hasDoubt(reading, 'values-conflict'))) return NO_REMARKS;
    const concerned = set.readings.filter((reading) => hasDoubt(reading, 'values-conflict'));
    const firsts = concerned.filter(
      (reading) => concerned.find((other) => isOfOnePlace(reading, other)) === reading,
    );
    return firsts.map((first) => ({
      readings: concerned
        .filter((reading) => isOfOnePlace(first, reading))
        .map(({ index }) => index),
      message: `${subjectOf([first], set)}: its message brought different values for one and the same measurement, of which one at most is right.`,
      advice: 'Compare them with the display of the device, and have the message put right.',
    }));
  },
};
