import { IDENTITY_UNKNOWN } from '../../vitals/limits-sources-devices.js';
import { claimRule } from '../claim-rule.js';

export const identityDeclaredUnknown = claimRule('identity-declared-unknown', {
  words: 'The message itself says that it is not known who the patient is.',
  message: 'The message itself says that it is not known for certain who the patient is.',
  advice:
    'Find out who was measured: a reviewer can name the patient. Then enter it at the device.',
  source: IDENTITY_UNKNOWN,
});
