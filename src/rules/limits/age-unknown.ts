import { ageAt } from '../../vitals/age.js';
import { bandAt } from '../../vitals/limits-lookup.js';
import { REFERENCE_RANGE } from '../../vitals/limits-sources.js';
import type { JudgingContext } from '../../vitals/shapes.js';
import { PARTS } from '../../vitals/words.js';
import { NO_REMARKS, type AcrossRule, type ReadingFacts } from '../rule.js';

/**
 * Whether the sign is interpreted by age and the age cannot tell its bands apart. Who is not yet born at
 * the time told is somebody else: that is asked, and not the age.
 */
function wantsAge(
  { reading, age }: ReadingFacts,
  birthDate: string | null,
  { limits, patient }: JudgingContext,
): boolean {
  const known = age ?? ageAt(birthDate, reading.takenAt);
  if (known === null && birthDate !== null) return false;
  return PARTS.some((part) => {
    if (reading.values[part] === undefined) return false;
    const table = limits.bands(reading.vital, part, patient?.gender ?? null);
    return table !== null && bandAt(table, known) === null;
  });
}

/** While it is in doubt who the patient is, that is asked, and not the age. */
export const ageUnknown: AcrossRule = {
  id: 'age-unknown',
  stage: 'across',
  verdict: 'noted',
  words:
    'The age is not known well enough to say what is usual, so there is no interpretation code.',
  source: REFERENCE_RANGE,
  since: 1,
  appliesTo: [
    'respiratory-rate',
    'pulse-rate',
    'oxygen-saturation',
    'blood-pressure',
    'body-temperature',
  ],
  check: (context, standing) => {
    if (context.patient === null) return NO_REMARKS;
    const { birthDate } = context.patient;
    // A whole birth date tells every band apart.
    if (birthDate?.length === 10 && standing.every(({ age }) => age !== null)) return NO_REMARKS;
    const readings = standing
      .filter((facts) => wantsAge(facts, birthDate, context))
      .map(({ reading }) => reading.index);
    if (readings.length === 0) return NO_REMARKS;
    const known = birthDate === null ? 'is not registered' : 'is registered too loosely';
    return [
      {
        readings,
        message: `The birth date of this patient ${known}, so that there is no interpretation code. Limits for adults were not assumed: a value counts as critical as soon as it is so at any age.`,
        advice:
          'Judge the value by the patient in front of you, and have the birth date registered.',
      },
    ];
  },
};
