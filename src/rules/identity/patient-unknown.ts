import { NO_REMARKS, type SetRule } from '../rule.js';
import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';

/** Where nobody is named at all, `patient-not-named` says so. */
export const patientUnknown: SetRule = {
  id: 'patient-unknown',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words: 'The patient identifier is not registered here.',
  source: PATIENT_IDENTIFICATION,
  since: 1,
  check: ({ patient, set }) =>
    patient === null && set.claim?.by !== 'nobody'
      ? [
          {
            readings: [],
            message: 'This patient identifier is not registered, so nothing is filed yet.',
            advice:
              'Check the identifier against the wristband. Once it is registered and a second identifier agrees, the set goes on by itself.',
          },
        ]
      : NO_REMARKS,
};
