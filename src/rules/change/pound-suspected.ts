import { POUND_FACTOR } from '../../vitals/limits-sources-measuring.js';
import { timeBefore } from '../own-values.js';
import { readsAsPound, weightPairs } from '../own-weights.js';
import type { AcrossRule } from '../rule.js';
import { amount, withUnit } from '../wording.js';

export const poundSuspected: AcrossRule = {
  id: 'pound-suspected',
  stage: 'across',
  verdict: 'noted',
  words: 'A weight about 2.2 times the one before, or the other way round: one may be pounds.',
  source: POUND_FACTOR,
  since: 1,
  appliesTo: ['body-weight'],
  check: (context, standing) =>
    weightPairs(context, standing, 'pound-suspected.window')
      .filter(({ ratio }) => readsAsPound(ratio, context.limits))
      .map(({ reading, before, ratio }) => {
        const text = withUnit(before.past.values.value?.text ?? '', reading.vital);
        const which = ratio > 1 ? 'This one' : 'That one';
        return {
          readings: [reading.index],
          message: `Body weight ${amount(reading, 'value')} after ${text} at ${timeBefore(before.past.takenAt, reading.takenAt)}. ${which} may be in pounds, sent as kilograms.`,
          discreetMessage: `Body weight ${amount(reading, 'value')} and the one before differ as kilogram and pound do.`,
          advice: 'Check the unit of the scale; send the weight with the unit that it shows.',
          figures: { before: before.value, ratio: Math.round(ratio * 100) / 100 },
        };
      }),
};
