import { ASSIGNING_AUTHORITY } from '../../vitals/limits-sources-devices.js';
import { claimRule } from '../claim-rule.js';

export const authorityMissing = claimRule('authority-missing', {
  words:
    'The patient identifier came without who assigned it, and none is registered for the source.',
  message:
    'The patient identifier came without who assigned it: the same number may be somebody else’s elsewhere.',
  advice:
    'Have the message name the assigning authority, or have one registered for the source. A reviewer can name the patient.',
  source: ASSIGNING_AUTHORITY,
});
