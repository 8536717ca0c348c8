import { NARROW_PULSE_PRESSURE } from '../../vitals/limits-relations.js';
import { PRESSURE_ARTEFACTS, type Limit } from '../../vitals/limits-sources.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

function narrowBelow(systolic: number): Limit | null {
  const row = NARROW_PULSE_PRESSURE.find(({ systolicUpTo, inclusive }) =>
    inclusive ? systolic <= systolicUpTo : systolic < systolicUpTo,
  );
  return row?.narrowBelow ?? null;
}

export const pulsePressureNarrow: ReadingRule = {
  id: 'pulse-pressure-narrow',
  stage: 'reading',
  verdict: 'held',
  hold: 'value',
  words: 'Systolic and diastolic lie closer together than is probable at this height.',
  source: PRESSURE_ARTEFACTS,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: (facts) => {
    const found = findPulsePressure(facts);
    if (found === null) return NO_REMARKS;
    const limit = narrowBelow(found.systolic);
    if (limit === null || found.difference >= limit.at) return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `Pressure ${pressure(facts.reading)}: systolic and diastolic are only ${found.difference} mmHg apart; below ${limit.at} mmHg is improbable at this systolic.`,
        advice:
          'Look at the patient. Measure again and send the value as confirmed if it stands; if it does, call for help as local policy says.',
        figures: { difference: found.difference, limit: limit.at, unit: 'mm[Hg]' },
      },
    ];
  },
};
