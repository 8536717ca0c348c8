import { CATALOGUE } from '../../vitals/catalogue.js';
import { UCUM } from '../../vitals/limits-sources.js';
import { faultRule } from '../fault-rule.js';
import { sentence, signName } from '../wording.js';

export const unitUnknown = faultRule('unit-unknown', {
  words: 'The unit is missing, or is none that this sign is taken in; nothing is guessed.',
  message: ({ vital, sentUnit }) => {
    const told =
      sentUnit === null ? 'no unit was sent' : `"${sentUnit}" is not a unit it is taken in`;
    return `${sentence(signName(vital, 'value'))}: ${told}; known are ${CATALOGUE[vital].unitsTaken.join(', ')}.`;
  },
  advice: 'Send the reading again with the unit in which it was measured, spelled as in UCUM.',
  source: UCUM,
});
