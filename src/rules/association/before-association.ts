import { ASSOCIATIONS } from '../../vitals/limits-sources-devices.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { isBeforeNow, isTyped, remarkOnWhose, whoseWas } from '../device-facts.js';
import { isTimeKnown } from '../report-doubts.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

/** Before it was given to whom the set names, or, where that names nobody, to whoever has it now. */
function isBefore(reading: Reading, context: JudgingContext): boolean {
  if (!isTimeKnown(reading) || isTyped(reading, context)) return false;
  const whose = whoseWas(reading, context);
  if (whose === null || !isBeforeNow(reading, whose)) return false;
  return whose.now?.ofThisPatient === true || context.set.claim?.by === 'nobody';
}

/**
 * What a device stored for the patient before and sends under the next one. A time that is not known lies
 * before nothing; a person who measured this patient before the device was recorded as theirs knows it.
 */
export const beforeAssociation: SetRule = {
  id: 'before-association',
  stage: 'set',
  asksWho: true,
  verdict: 'rejected',
  words: 'The device measured it before it was given to the patient who has it now.',
  source: ASSOCIATIONS,
  since: 1,
  check: (context) => {
    if (context.devices === undefined) return NO_REMARKS;
    const { set } = context;
    const concerned = set.readings.filter((reading) => isBefore(reading, context));
    return remarkOnWhose(set, concerned, {
      clause:
        'the device measured this before it was given to the patient who has it now, so it may be of somebody else',
      advice:
        'Find out who was measured: a reviewer can correct it for that patient. If it was this one, set the clock of the device, or record since when it is theirs.',
    });
  },
};
