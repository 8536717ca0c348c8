import { isClockKnown } from '../../vitals/device-clock.js';
import { STALE_BUFFER } from '../../vitals/limits-sources-devices.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { isTyped, remarkOnWhose, whoseWas } from '../device-facts.js';
import { isTimeKnown } from '../report-doubts.js';
import { NO_REMARKS, type SetRule } from '../rule.js';

/** A person stands by the value, and the message names whose it is: nothing that a device had stored. */
function isVouched(reading: Reading, context: JudgingContext): boolean {
  if (isTyped(reading, context)) return true;
  return context.set.claim?.by === 'named' && reading.report?.reviewed === true;
}

function isFresh(reading: Reading, context: JudgingContext): boolean {
  const whose = whoseWas(reading, context);
  if (whose?.then?.ofThisPatient !== true || isVouched(reading, context)) return false;
  const { limits, receivedAtMs, set } = context;
  // Of such a one `outside-association` says that it cannot be told.
  if (!isTimeKnown(reading) && set.claim?.by === 'association') return false;
  if (isClockKnown(whose.clock, receivedAtMs, limits.ms('clock-corrected.pair'))) return false;
  const atMs = isTimeKnown(reading) ? reading.takenAt.epochMs : receivedAtMs;
  return atMs - whose.then.fromMs < limits.ms('association-fresh.quarantine');
}

/** By a clock that is some seconds off, what was stored for the patient before looks like the next one's. */
export const associationFresh: SetRule = {
  id: 'association-fresh',
  stage: 'set',
  asksWho: true,
  verdict: 'held',
  hold: 'identity',
  words:
    'The device was given to the patient just before, and its clock is not known: it may have stored this for the last one.',
  source: STALE_BUFFER,
  since: 1,
  check: (context) => {
    if (context.devices === undefined) return NO_REMARKS;
    const { set, limits } = context;
    const { at: limit, source } = limits.setting('association-fresh.quarantine');
    const concerned = set.readings.filter((reading) => isFresh(reading, context));
    return remarkOnWhose(set, concerned, {
      clause: `measured within ${limit} s after the device was given to this patient, by a clock that nobody has compared: the device may have stored it for the patient before`,
      advice:
        'Look at the patient and measure again; a reviewer can name the patient. A device that tells its own time beside the true one is not held for this.',
      figures: { limit, unit: 's' },
      sources: [source],
    });
  },
};
