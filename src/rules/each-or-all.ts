import type { NormalisedSet, Reading } from '../vitals/shapes.js';
import { NO_REMARKS, type Remark } from './rule.js';

/**
 * One remark about the whole set where each of its readings is concerned, as with a wrong clock; else one
 * about each. Never one that names several: of a hold that says that they contradict each other.
 */
export function remarkEachOrAll(
  { readings }: Pick<NormalisedSet, 'readings'>,
  concerned: readonly Reading[],
  remark: (about: readonly Reading[]) => Omit<Remark, 'readings'>,
): readonly Remark[] {
  if (concerned.length === 0) return NO_REMARKS;
  return concerned.length === readings.length
    ? [{ readings: [], ...remark(concerned) }]
    : concerned.map((reading) => ({ readings: [reading.index], ...remark([reading]) }));
}
