import { TWO_ARMS } from '../../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { earlierIds, findTwos, isSameIfTold, keptAt, ownIndexes, type Two } from '../pairs.js';
import type { AcrossRule, Remark } from '../rule.js';
import { distance, tolerance } from '../tolerance.js';
import { byMethod, pressure } from '../wording.js';

const ADVICE = 'Repeat on both arms; if it stays so, measure on the arm with the higher pressure.';

/** Two sides, both told; on limbs of one kind, in one position, as far as told. An arterial line is no cuff. */
function areTwoArms({ first, second }: Two): boolean {
  return (
    first.side !== null &&
    second.side !== null &&
    first.side !== second.side &&
    first.method !== 'invasive' &&
    second.method !== 'invasive' &&
    isSameIfTold(first.site, second.site) &&
    isSameIfTold(first.position, second.position)
  );
}

function findRemark({ limits }: JudgingContext, two: Two): Remark | null {
  const { first, second, earlier } = two;
  const a = first.values.systolic?.number;
  const b = second.values.systolic?.number;
  if (!areTwoArms(two) || a === undefined || b === undefined) return null;
  const rule = 'blood-pressure-arms-differ';
  const { at, source } = tolerance(limits, `${rule}.systolic`, `${rule}.share`, a, b);
  const difference = distance(a, b);
  if (difference <= at) return null;
  const told = (reading: Reading): string =>
    `${reading.side ?? ''} ${byMethod(reading.method)} (${pressure(reading)}${keptAt(reading, earlier)})`;
  return {
    readings: ownIndexes([first, second], earlier),
    ...earlierIds(earlier),
    message: `Systolic pressure ${told(first)} and ${told(second)} differ by ${difference} mmHg; ${at} mmHg is the limit between two arms.`,
    ...(earlier !== null && {
      discreetMessage: `Systolic pressures of the two arms, one of them sent before, differ by more than ${at} mmHg.`,
    }),
    advice: ADVICE,
    figures: { difference, limit: at, unit: 'mm[Hg]' },
    sources: [source],
  };
}

export const bloodPressureArmsDiffer: AcrossRule = {
  id: 'blood-pressure-arms-differ',
  stage: 'across',
  verdict: 'noted',
  words: 'Systolic pressure differs between the two arms.',
  source: TWO_ARMS,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) => {
    const windowMs = context.limits.ms('blood-pressure-arms-differ.window');
    return findTwos('blood-pressure', windowMs, context, standing)
      .map((two) => findRemark(context, two))
      .filter((remark) => remark !== null);
  },
};
