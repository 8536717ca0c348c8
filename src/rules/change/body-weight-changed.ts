import { OWN_CHANGE } from '../../vitals/limits-sources-measuring.js';
import { timeBefore, withoutNoise } from '../own-values.js';
import { readsAsPound, weightPairs } from '../own-weights.js';
import type { AcrossRule } from '../rule.js';
import { amount, withUnit } from '../wording.js';

export const bodyWeightChanged: AcrossRule = {
  id: 'body-weight-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'A weight far from the patient’s own within the week.',
  source: OWN_CHANGE,
  since: 1,
  appliesTo: ['body-weight'],
  check: (context, standing) => {
    const { limits } = context;
    const limit = limits.at('body-weight-changed.share');
    return weightPairs(context, standing, 'body-weight-changed.window')
      .filter(
        ({ ratio }) => withoutNoise(Math.abs(ratio - 1)) > limit && !readsAsPound(ratio, limits),
      )
      .map(({ reading, before, ratio }) => {
        const text = withUnit(before.past.values.value?.text ?? '', reading.vital);
        const percent = Math.round(Math.abs(ratio - 1) * 100);
        return {
          readings: [reading.index],
          message: `Body weight ${amount(reading, 'value')} is ${percent} % ${ratio < 1 ? 'less' : 'more'} than ${text} at ${timeBefore(before.past.takenAt, reading.takenAt)}.`,
          discreetMessage: `Body weight ${amount(reading, 'value')} is further than the limit from the patient’s own weight before.`,
          advice: 'Weigh again on the same scale, in like clothes, and check the number typed.',
          figures: { before: before.value, difference: percent, limit: limit * 100, unit: '%' },
          sources: [limits.setting('body-weight-changed.share').source],
        };
      });
  },
};
