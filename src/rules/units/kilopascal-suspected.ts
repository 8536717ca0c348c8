import { PROPOSED } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { pressure } from '../wording.js';

/**
 * Takes the place of the rules of size: the usual pressure of an adult in kilopascal lies below what
 * mmHg can be, and would be rejected where a person can put it right.
 */
export const kilopascalSuspected: ReadingRule = {
  id: 'kilopascal-suspected',
  stage: 'reading',
  verdict: 'held',
  hold: 'unit',
  words: 'Both pressures, sent in mmHg, read as kilopascal.',
  source: PROPOSED,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading, slip }, { limits }) =>
    slip === 'kilopascal'
      ? [
          {
            readings: [reading.index],
            message: `Pressure ${pressure(reading)}: both numbers read as kilopascal; nothing was converted.`,
            advice:
              'Look at the patient: if this is mmHg, call for help at once. Else send it again with its true unit.',
            sources: [limits.setting('kilopascal-suspected.systolic-to').source],
          },
        ]
      : NO_REMARKS,
};
