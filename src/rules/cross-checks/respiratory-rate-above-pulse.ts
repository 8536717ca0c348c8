import { PROPOSED } from '../../vitals/limits-sources.js';
import { areNear } from '../pairs.js';
import type { AcrossRule, Remark } from '../rule.js';
import { amount, byMethod } from '../wording.js';

const ADVICE =
  'See whether the two were put into each other’s fields; else count both again for 60 s.';

/** Fields are swapped inside one set, so only there the two are held against each other. */
export const respiratoryRateAbovePulse: AcrossRule = {
  id: 'respiratory-rate-above-pulse',
  stage: 'across',
  verdict: 'held',
  hold: 'value',
  words: 'The respiratory rate is above the pulse: the fields may be swapped.',
  source: PROPOSED,
  since: 1,
  appliesTo: ['respiratory-rate', 'pulse-rate'],
  check: ({ limits }, standing) => {
    const remarks: Remark[] = [];
    for (const { reading: breathing } of standing) {
      const breaths = breathing.values.value?.number;
      if (breathing.vital !== 'respiratory-rate' || breaths === undefined) continue;
      for (const { reading: pulse } of standing) {
        const beats = pulse.values.value?.number;
        if (pulse.vital !== 'pulse-rate' || beats === undefined || breaths <= beats) continue;
        if (!areNear(breathing, pulse, limits.ms('respiratory-rate-above-pulse.window'))) continue;
        remarks.push({
          readings: [breathing.index, pulse.index].sort((a, b) => a - b),
          message: `The respiratory rate (${amount(breathing, 'value')}) is above the pulse ${byMethod(pulse.method)} (${amount(pulse, 'value')}): the fields may be swapped.`,
          advice: ADVICE,
          figures: { difference: breaths - beats, limit: 0, unit: '/min' },
        });
      }
    }
    return remarks;
  },
};
