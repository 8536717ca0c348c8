import { IRREGULAR_PULSE } from '../../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { isComparable } from '../pairs.js';
import type { AcrossRule, ReadingFacts } from '../rule.js';

/** The readings of the set that stand, and those kept before that may be held against them. */
function around(context: JudgingContext, standing: readonly ReadingFacts[]): readonly Reading[] {
  return [...standing.map(({ reading }) => reading), ...context.earlier.filter(isComparable)];
}

function isIrregularPulse({ vital, context }: Reading): boolean {
  return vital === 'pulse-rate' && context.regular === false;
}

function isPressureOtherwise({ vital, method, absent }: Reading): boolean {
  return vital === 'blood-pressure' && method !== 'oscillometry' && absent === null;
}

export const irregularByCuffOnly: AcrossRule = {
  id: 'irregular-by-cuff-only',
  stage: 'across',
  verdict: 'noted',
  words: 'The pulse is irregular and the pressure was taken by automatic cuff only.',
  source: IRREGULAR_PULSE,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (context, standing) => {
    const cuffs = standing.filter(
      ({ reading }) =>
        reading.vital === 'blood-pressure' &&
        reading.method === 'oscillometry' &&
        reading.absent === null,
    );
    if (cuffs.length === 0) return [];
    const others = around(context, standing);
    const windowMs = context.limits.ms('irregular-by-cuff-only.window');
    return cuffs.flatMap(({ reading }) => {
      const near = others.filter(
        (other) => Math.abs(other.takenAt.epochMs - reading.takenAt.epochMs) <= windowMs,
      );
      if (!near.some(isIrregularPulse) || near.some(isPressureOtherwise)) return [];
      return [
        {
          readings: [reading.index],
          message:
            'The rhythm was told as irregular; an automatic cuff may then be wrong, and no other pressure was taken.',
          advice: 'Measure the pressure by stethoscope.',
        },
      ];
    });
  },
};
