import type { SignalDoubt } from '../../vitals/device-report.js';
import { MEASUREMENT_STATUS } from '../../vitals/limits-sources-devices.js';
import { isSignalDoubtful } from '../../vitals/settled.js';
import { subjectOf } from '../report-rule.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { listed } from '../wording.js';

const SIGNAL_WORDS: Readonly<Record<SignalDoubt, string>> = {
  questionable: 'questionable',
  calibrating: 'taken while it was calibrating',
  early: 'an early estimate',
};

/** Never held for it: that the device is in doubt is known to whoever reads the value beside it. */
export const signalDoubtful: ReadingRule = {
  id: 'signal-doubtful',
  stage: 'reading',
  verdict: 'noted',
  words: 'The device itself doubts its signal; the value goes out as preliminary.',
  source: MEASUREMENT_STATUS,
  since: 1,
  check: ({ reading }, { set }) => {
    if (!isSignalDoubtful(reading.report)) return NO_REMARKS;
    const told = (reading.report?.signal ?? []).map((each) => SIGNAL_WORDS[each]);
    return [
      {
        readings: [reading.index],
        message: `${subjectOf([reading], set)}: the device itself calls this value ${listed(told)}.`,
        advice: 'Look at the patient and at the sensor, and measure again if the value matters.',
      },
    ];
  },
};
