import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';
import { isIdentifiedOnce } from '../identifiers.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

export const secondIdentifierMissing: SetRule = {
  id: 'second-identifier-missing',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words:
    'A source that is registered to send a second identifier sent none that could be confirmed.',
  source: PATIENT_IDENTIFICATION,
  since: 1,
  check: (context) =>
    isIdentifiedOnce(context) && context.source.secondIdentifierRequired
      ? [
          {
            readings: [],
            message:
              'This source must send a second identifier, and none was sent that the register confirms.',
            advice: 'Send birth date or family name, or have the register completed.',
          },
        ]
      : NO_REMARKS,
};
