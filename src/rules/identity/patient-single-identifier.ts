import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';
import { isIdentifiedOnce } from '../identifiers.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

export const patientSingleIdentifier: SetRule = {
  id: 'patient-single-identifier',
  stage: 'set',
  asksWho: true,
  verdict: 'noted',
  words: 'No second identifier confirms who the patient is.',
  source: PATIENT_IDENTIFICATION,
  since: 1,
  check: (context) =>
    isIdentifiedOnce(context) && !context.source.secondIdentifierRequired
      ? [
          {
            readings: [],
            message: 'The patient was named by one identifier that nothing else confirms.',
            advice: 'Send birth date or family name as well.',
          },
        ]
      : NO_REMARKS,
};
