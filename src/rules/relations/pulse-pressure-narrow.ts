import { PRESSURE_ARTEFACTS, type Limit } from '../../vitals/limits-sources.js';
import type { Limits } from '../../vitals/limits.js';
import { findPulsePressure } from '../pulse-pressure.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

/** The higher the systolic, the wider the two lie apart. The first step ends before its number. */
function narrowBelow(systolic: number, limits: Limits): Limit {
  if (systolic < limits.at('pulse-pressure-narrow.first-step')) {
    return limits.setting('pulse-pressure-narrow.first');
  }
  if (systolic <= limits.at('pulse-pressure-narrow.second-step')) {
    return limits.setting('pulse-pressure-narrow.second');
  }
  return systolic <= limits.at('pulse-pressure-narrow.third-step')
    ? limits.setting('pulse-pressure-narrow.third')
    : limits.setting('pulse-pressure-narrow.fourth');
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
  check: (facts, { limits }) => {
    const found = findPulsePressure(facts, limits);
    if (found === null) return NO_REMARKS;
    const limit = narrowBelow(found.systolic, limits);
    if (found.difference >= limit.at) return NO_REMARKS;
    return [
      {
        readings: [facts.reading.index],
        message: `Pressure ${pressure(facts.reading)}: systolic and diastolic are only ${found.difference} mmHg apart; below ${limit.at} mmHg is improbable at this systolic.`,
        advice:
          'Look at the patient. Measure again and send the value as confirmed if it stands; if it does, call for help as local policy says.',
        figures: { difference: found.difference, limit: limit.at, unit: 'mm[Hg]' },
        sources: [limit.source],
      },
    ];
  },
};
