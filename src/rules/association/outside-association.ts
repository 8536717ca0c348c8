import { ASSOCIATIONS } from '../../vitals/limits-sources-devices.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { isBeforeNow, remarkOnWhose, whoseWas } from '../device-facts.js';
import { isTimeKnown } from '../report-doubts.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

/** What is said by the other rules of whose a device was is not said again. */
function isOutside(reading: Reading, context: JudgingContext): boolean {
  const whose = whoseWas(reading, context);
  if (whose === null) return true;
  if (!isTimeKnown(reading)) return whose.then === null || whose.then.ofThisPatient;
  return whose.then === null && !isBeforeNow(reading, whose);
}

/** Speaks only where whose the device was is all that tells whose the reading is. */
export const outsideAssociation: SetRule = {
  id: 'outside-association',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words: 'Only its device tells whose it is, and at the time of measuring that was nobody’s.',
  source: ASSOCIATIONS,
  since: 1,
  check: (context) => {
    const { set } = context;
    if (set.claim?.by !== 'association') return NO_REMARKS;
    const concerned = set.readings.filter((reading) => isOutside(reading, context));
    return remarkOnWhose(set, concerned, {
      clause:
        'the message names no patient, and it is not recorded that the device was this patient’s when this was measured',
      advice:
        'Find out who was measured: a reviewer can name the patient. Have it recorded from when to when the device was whose.',
    });
  },
};
