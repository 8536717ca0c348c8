import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

export const patientNotNamed: SetRule = {
  id: 'patient-not-named',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words: 'A message names no patient, and nobody has told whose its device was.',
  source: PATIENT_IDENTIFICATION,
  since: 1,
  check: ({ set }) =>
    set.claim?.by === 'nobody'
      ? [
          {
            readings: [],
            message:
              'The message names no patient, and it is not recorded whose the device was, so nothing is filed yet.',
            advice:
              'Find out who was measured: a reviewer can name the patient. Record whose the device is, so that what comes next is filed.',
          },
        ]
      : NO_REMARKS,
};
