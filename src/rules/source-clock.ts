/** How far the clock of a sending system is off: two thresholds, two rules. */
import type { JudgingContext } from '../vitals/shapes.js';
import { NO_REMARKS, type Remark } from './rule.js';
import { lengthOfTime } from './wording.js';

type Rule = 'source-clock-off' | 'source-clock-far-off';

/** `source-clock-off` between its limit and that of `source-clock-far-off`, which speaks beyond its own. */
export function remarkOnSourceClock(
  rule: Rule,
  advice: string,
  { source: { skewMs }, limits }: JudgingContext,
): readonly Remark[] {
  if (skewMs === undefined) return NO_REMARKS;
  const offMs = Math.abs(skewMs);
  if (offMs <= limits.ms(`${rule}.skew`)) return NO_REMARKS;
  if (rule === 'source-clock-off' && offMs > limits.ms('source-clock-far-off.skew')) {
    return NO_REMARKS;
  }
  const { at: limit, source } = limits.setting(`${rule}.skew`);
  return [
    {
      readings: [],
      message: `The clock of the sending system is ${lengthOfTime(offMs)} ${skewMs > 0 ? 'ahead' : 'behind'}, and the times in its messages may be as far off.`,
      advice,
      figures: { difference: Math.round(offMs / 1000), limit, unit: 's' },
      sources: [source],
    },
  ];
}
