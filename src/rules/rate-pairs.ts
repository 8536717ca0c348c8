/** Rates by hand against rates by a device, where a difference is a note and no more. */
import type { Limits } from '../vitals/limits.js';
import type { Reading } from '../vitals/shapes.js';
import type { NamedSettingId } from '../vitals/settings.js';
import { earlierIds, keptAt, ownIndexes, type Pair } from './pairs.js';
import type { Remark } from './rule.js';
import { distance, tolerance } from './tolerance.js';
import { amount, byMethod } from './wording.js';

interface RateCheck {
  /** As the sentence begins: "Pulse". */
  readonly name: string;
  readonly cap: NamedSettingId;
  readonly share: NamedSettingId;
  readonly advice: string;
}

/** A remark on each pair that differs by more than its tolerance. */
export function remarkOnRates(
  { name, cap, share, advice }: RateCheck,
  limits: Limits,
  pairs: readonly Pair[],
): readonly Remark[] {
  const remarks: Remark[] = [];
  for (const { byHand, byDevice, earlier } of pairs) {
    const a = byHand.values.value?.number;
    const b = byDevice.values.value?.number;
    if (a === undefined || b === undefined) continue;
    const { at, source } = tolerance(limits, cap, share, a, b);
    const difference = distance(a, b);
    if (difference <= at) continue;
    const told = (reading: Reading): string =>
      `${byMethod(reading.method)} (${amount(reading, 'value')}${keptAt(reading, earlier)})`;
    remarks.push({
      readings: ownIndexes([byHand, byDevice], earlier),
      ...earlierIds(earlier),
      message: `${name} ${told(byHand)} and ${told(byDevice)} differ by ${difference} /min; ${at} /min is the limit.`,
      ...(earlier !== null && {
        discreetMessage: `${name} ${byMethod(byHand.method)} and ${byMethod(byDevice.method)}, one of them sent before, differ by more than ${at} /min.`,
      }),
      advice,
      figures: { difference, limit: at, unit: '/min' },
      sources: [source],
    });
  }
  return remarks;
}
