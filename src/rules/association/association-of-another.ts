import { ASSOCIATIONS } from '../../vitals/limits-sources-devices.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { isBeforeNow, isTyped, remarkOnWhose, whoseWas } from '../device-facts.js';
import { isTimeKnown } from '../report-doubts.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

/**
 * Another's at the time of the reading. Or another's now, and nobody's then: who prepared the device for
 * the next patient may have left the name of the last one in it.
 */
function isOfAnother(reading: Reading, context: JudgingContext): boolean {
  // Whoever has the device is another then; `patient-not-named` says so.
  if (context.set.claim?.by === 'nobody') return false;
  const whose = whoseWas(reading, context);
  if (whose === null) return false;
  if (whose.then !== null) return !whose.then.ofThisPatient;
  if (whose.now?.ofThisPatient !== false || isTyped(reading, context)) return false;
  return isTimeKnown(reading) && isBeforeNow(reading, whose);
}

export const associationOfAnother: SetRule = {
  id: 'association-of-another',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words: 'The device is recorded as another patient’s, whoever the message names.',
  source: ASSOCIATIONS,
  since: 1,
  check: (context) => {
    if (context.devices === undefined) return NO_REMARKS;
    const { set } = context;
    const concerned = set.readings.filter((reading) => isOfAnother(reading, context));
    return remarkOnWhose(set, concerned, {
      clause: 'the device is recorded as another patient’s, so it is in doubt whose this is',
      advice:
        'Compare the wristband with the device. A reviewer can name the patient; have it recorded whose the device is.',
    });
  },
};
