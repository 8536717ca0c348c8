import { PULSE_DEFICIT } from '../../vitals/limits-sources.js';
import type { Reading } from '../../vitals/shapes.js';
import { earlierIds, findPairs, keptAt, ownIndexes } from '../pairs.js';
import type { AcrossRule, Remark } from '../rule.js';
import { distance } from '../tolerance.js';
import { amount } from '../wording.js';

const ADVICE =
  'Count apex and wrist for the same 60 s, best by two people at once, before it is called a deficit.';

/** A place that is not told is the wrist: that is where a pulse is felt. */
function isAtWrist({ site }: Reading): boolean {
  return site === 'radial-artery' || site === 'wrist' || site === null;
}

/** Properly apex by stethoscope less radial by touch: no oximeter and no electrocardiogram stands in. */
export const pulseDeficitPossible: AcrossRule = {
  id: 'pulse-deficit-possible',
  stage: 'across',
  verdict: 'noted',
  words: 'More beats are heard at the apex than felt at the wrist: a pulse deficit is possible.',
  source: PULSE_DEFICIT,
  since: 1,
  appliesTo: ['pulse-rate'],
  check: (context, standing) => {
    const comparison = {
      vital: 'pulse-rate',
      windowMs: context.limits.ms('pulse-deficit-possible.window'),
      byHand: ['palpation'],
      byDevice: ['auscultation'],
    } as const;
    const remarks: Remark[] = [];
    for (const pair of findPairs(comparison, context, standing)) {
      const { byHand: wrist, byDevice: apex, earlier } = pair;
      const { at, source } = context.limits.setting('pulse-deficit-possible.deficit');
      const heard = apex.values.value?.number ?? 0;
      const felt = wrist.values.value?.number ?? 0;
      const difference = distance(heard, felt);
      if (apex.site !== 'apex' || !isAtWrist(wrist) || heard < felt || difference <= at) continue;
      const told = (reading: Reading): string =>
        `${amount(reading, 'value')}${keptAt(reading, earlier)}`;
      remarks.push({
        readings: ownIndexes([wrist, apex], earlier),
        ...earlierIds(earlier),
        message: `${difference} /min more were heard at the apex (${told(apex)}) than felt at the wrist (${told(wrist)}): a pulse deficit is possible; ${at} /min is the limit.`,
        ...(earlier !== null && {
          discreetMessage: `Over ${at} /min more were heard at the apex than felt at the wrist, one of the two sent before: a pulse deficit is possible.`,
        }),
        advice: ADVICE,
        figures: { difference, limit: at, unit: '/min' },
        sources: [source],
      });
    }
    return remarks;
  },
};
