/** A weight beside the patient's own weight before it. */
import type { Limits } from '../vitals/limits.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import type { NamedSettingId } from '../vitals/settings.js';
import { ownValues, withoutNoise, type OwnValue } from './own-values.js';
import type { ReadingFacts } from './rule.js';

export interface WeightPair {
  readonly reading: Reading;
  readonly before: OwnValue;
  /** Weight over the one before. */
  readonly ratio: number;
}

/** Each weight of the set with the last one before it, up to so long before. */
export function weightPairs(
  { history, limits }: JudgingContext,
  standing: readonly ReadingFacts[],
  window: NamedSettingId,
): readonly WeightPair[] {
  const pairs: WeightPair[] = [];
  for (const { reading } of standing) {
    const weight = reading.values.value?.number;
    if (reading.vital !== 'body-weight' || weight === undefined) continue;
    const before = ownValues(reading, 'value', history, limits.ms(window)).at(-1);
    if (before !== undefined && before.value > 0) {
      pairs.push({ reading, before, ratio: withoutNoise(weight / before.value) });
    }
  }
  return pairs;
}

/** Whether the ratio of two weights is about that of the kilogram and the pound. */
export function readsAsPound(ratio: number, limits: Limits): boolean {
  const within = (from: NamedSettingId, to: NamedSettingId): boolean =>
    ratio >= limits.at(from) && ratio <= limits.at(to);
  return (
    within('pound-suspected.more-from', 'pound-suspected.more-to') ||
    within('pound-suspected.less-from', 'pound-suspected.less-to')
  );
}
