import { REPEATED_PRESSURES } from '../../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { earlierIds, findTwos, isSameArm, keptAt, ownIndexes, type Two } from '../pairs.js';
import { PARTS_COMPARED } from '../pressure-pairs.js';
import type { AcrossRule, Remark } from '../rule.js';
import { distance, tolerance } from '../tolerance.js';
import { byMethod, pressure, sentence } from '../wording.js';

const ADVICE = 'Take another reading after a minute of rest, and keep them all.';

/** The first part that differs by too much; an arterial line follows every beat and is left out. */
function findRemark({ limits }: JudgingContext, two: Two): Remark | null {
  const { first, second, earlier } = two;
  if (first.method === 'invasive' || first.method !== second.method) return null;
  if (!isSameArm(first, second)) return null;
  for (const part of PARTS_COMPARED) {
    const a = first.values[part]?.number;
    const b = second.values[part]?.number;
    if (a === undefined || b === undefined) continue;
    const rule = 'blood-pressure-repeats-differ';
    const { at, source } = tolerance(limits, `${rule}.difference`, `${rule}.share`, a, b);
    const difference = distance(a, b);
    if (difference <= at) continue;
    const told = (reading: Reading): string => `${pressure(reading)}${keptAt(reading, earlier)}`;
    return {
      readings: ownIndexes([first, second], earlier),
      ...earlierIds(earlier),
      message: `${sentence(part)} pressure ${byMethod(first.method)} on the same arm (${told(first)} and ${told(second)}) differs by ${difference} mmHg; ${at} mmHg is the limit.`,
      ...(earlier !== null && {
        discreetMessage: `${sentence(part)} pressure ${byMethod(first.method)} on the same arm differs from one sent before by more than ${at} mmHg.`,
      }),
      advice: ADVICE,
      figures: { difference, limit: at, unit: 'mm[Hg]' },
      sources: [source],
    };
  }
  return null;
}

export const bloodPressureRepeatsDiffer: AcrossRule = {
  id: 'blood-pressure-repeats-differ',
  stage: 'across',
  verdict: 'noted',
  words: 'Two pressures by the same method on the same arm are far apart.',
  source: REPEATED_PRESSURES,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) => {
    const windowMs = context.limits.ms('blood-pressure-repeats-differ.window');
    return findTwos('blood-pressure', windowMs, context, standing)
      .map((two) => findRemark(context, two))
      .filter((remark) => remark !== null);
  },
};
