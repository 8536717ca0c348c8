import { ROOM_AIR } from '../../vitals/limits-sources.js';
import { areNear } from '../pairs.js';
import type { AcrossRule, Remark } from '../rule.js';
import { amount } from '../wording.js';

const ADVICE = 'See what the patient breathes, and send the figure that was wrong once more.';

/** Inside one set: from one set to the next the oxygen may have been changed. */
export const inspiredOxygenWithoutFlow: AcrossRule = {
  id: 'inspired-oxygen-without-flow',
  stage: 'across',
  verdict: 'noted',
  words: 'More oxygen than air has is told as breathed, and a flow of none.',
  source: ROOM_AIR,
  since: 1,
  appliesTo: ['inspired-oxygen', 'oxygen-flow'],
  check: ({ limits }, standing) => {
    const remarks: Remark[] = [];
    for (const { reading: inspired } of standing) {
      const percent = inspired.values.value?.number;
      if (inspired.vital !== 'inspired-oxygen' || percent === undefined) continue;
      const { at, source } = limits.setting('inspired-oxygen-without-flow.inspired');
      if (percent <= at) continue;
      for (const { reading: flow } of standing) {
        if (flow.vital !== 'oxygen-flow' || flow.values.value?.number !== 0) continue;
        if (!areNear(inspired, flow, limits.ms('inspired-oxygen-without-flow.window'))) continue;
        remarks.push({
          readings: [inspired.index, flow.index].sort((a, b) => a - b),
          message: `Inspired oxygen ${amount(inspired, 'value')} is more than air has, while the oxygen flow was told as ${amount(flow, 'value')}.`,
          advice: ADVICE,
          figures: { value: percent, limit: at, unit: '%' },
          sources: [source],
        });
      }
    }
    return remarks;
  },
};
