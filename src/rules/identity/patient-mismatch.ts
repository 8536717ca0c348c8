import { makeAgeTeller } from '../../vitals/age.js';
import { PATIENT_IDENTIFICATION } from '../../vitals/limits-sources.js';
import type { JudgingContext, RegisteredPatient } from '../../vitals/shapes.js';
import { compareBirthDates, compareFamilyNames } from '../identifiers.js';
import { isTimeKnown } from '../report-doubts.js';
import { NO_REMARKS, type SetRule } from '../rule.js';
import { listed, sentence } from '../wording.js';

/** What the register holds is not told: the sender may have the wrong patient. */
function findContradictions(context: JudgingContext, patient: RegisteredPatient): string[] {
  const { set } = context;
  const found: string[] = [];
  if (compareBirthDates(set.patient, patient) === 'differs') {
    found.push('the birth date sent is not the registered one');
  }
  if (compareFamilyNames(set.patient, patient) === 'differs') {
    found.push('the family name sent is not the registered one');
  }
  if (context.encounterOfAnother) found.push('the encounter belongs to another patient');
  if (patient.birthDate !== null && isBeforeBirth(context)) {
    found.push('the time of measuring lies before the registered birth');
  }
  return found;
}

/** Who has a birth date and no age yet is not born. A clock that was never set says nothing about it. */
function isBeforeBirth(context: JudgingContext): boolean {
  const ageAt = makeAgeTeller(context, false);
  return context.set.readings.some((reading) => isTimeKnown(reading) && ageAt(reading) === null);
}

export const patientMismatch: SetRule = {
  id: 'patient-mismatch',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words: 'What was sent about the patient contradicts the register.',
  source: PATIENT_IDENTIFICATION,
  since: 1,
  check: (context) => {
    if (context.patient === null) return NO_REMARKS;
    const contradictions = findContradictions(context, context.patient);
    if (contradictions.length === 0) return NO_REMARKS;
    return [
      {
        readings: [],
        message: `${sentence(listed(contradictions))}: this may be another patient.`,
        advice:
          'Compare the wristband with what was sent. Send the set again for the right patient, or have the register put right.',
      },
    ];
  },
};
