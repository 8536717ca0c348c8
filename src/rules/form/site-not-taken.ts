import { CATALOGUE } from '../../vitals/catalogue.js';
import { faultRule } from '../fault-rule.js';
import { sentence, signName } from '../wording.js';

export const siteNotTaken = faultRule('site-not-taken', {
  words: 'This sign is not measured at the site named.',
  message: ({ vital, site }) => {
    const taken = CATALOGUE[vital].sitesTaken;
    const known = taken.length === 0 ? 'it takes none' : `known are ${taken.join(', ')}`;
    return `${sentence(signName(vital, 'value'))} is not measured at ${site ?? 'that site'}; ${known}.`;
  },
  advice: 'Check sign and site, and send the reading again.',
});
