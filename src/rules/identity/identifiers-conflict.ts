import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';
import { claimRule } from '../claim-rule.js';

export const identifiersConflict = claimRule('identifiers-conflict', {
  words: 'The identifiers of the message belong to different patients.',
  message: 'The identifiers that the message brings together belong to different patients.',
  advice:
    'Compare the wristband with what was sent: a reviewer can name the patient. Have the sender’s records put right.',
  source: PATIENT_IDENTIFICATION,
});
