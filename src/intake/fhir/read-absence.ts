import type { CodeableConcept } from 'fhir/r4.js';
import type { AbsentReason } from '../../vitals/words.js';

/** Code system data-absent-reason of FHIR R4. */
const SYSTEM = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';

/** The words by which the gateway itself tells this reason from not done: the code system has no code for it. */
const NOT_POSSIBLE = 'measurement was not possible';

/**
 * Why there is no value. Undefined: for a reason by which nothing is known of the patient, as when a sensor
 * had no signal; that is no reading.
 */
export function readAbsence({ coding = [], text }: CodeableConcept): AbsentReason | undefined {
  const code = coding.find(({ system }) => system === SYSTEM)?.code;
  if (code === 'asked-declined') return 'refused';
  if (code !== 'not-performed') return undefined;
  return text?.trim().toLowerCase() === NOT_POSSIBLE ? 'not-possible' : 'not-done';
}

/** The reason in a word, for the analyst. */
export function absenceWord({ coding = [], text }: CodeableConcept): string {
  return coding.find(({ system }) => system === SYSTEM)?.code ?? text ?? 'no reason given';
}
