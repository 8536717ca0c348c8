import { CATALOGUE } from '../../vitals/catalogue.js';
import { faultRule } from '../fault-rule.js';
import { sentence, signName } from '../wording.js';

export const methodNotTaken = faultRule('method-not-taken', {
  words: 'This sign is not measured by the method named.',
  message: ({ vital, method }) => {
    const taken = CATALOGUE[vital].methodsTaken;
    const known = taken.length === 0 ? 'it takes none' : `known are ${taken.join(', ')}`;
    return `${sentence(signName(vital, 'value'))} is not measured by ${method ?? 'that method'}; ${known}.`;
  },
  advice: 'Check sign and method, and send the reading again.',
});
