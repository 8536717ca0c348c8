import { zeroMeaning } from '../../vitals/limits-plausible.js';
import { PRESSURE_ARTEFACTS } from '../../vitals/limits-sources.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { byMethod, listed, sentence, signName } from '../wording.js';

export const noSignal: ReadingRule = {
  id: 'no-signal',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A zero from a device that shows zero when it finds no signal.',
  source: PRESSURE_ARTEFACTS,
  since: 1,
  appliesTo: ['pulse-rate', 'oxygen-saturation', 'blood-pressure'],
  check: ({ reading, parts }) => {
    const { vital, method, index } = reading;
    if (!parts.some((part) => isZeroWithoutSignal(part))) return NO_REMARKS;
    const names = parts.filter(isZeroWithoutSignal).map((part) => signName(vital, part));
    return [
      {
        readings: [index],
        message: `${sentence(listed(names))} 0 ${byMethod(method)}: the device found no signal, so this is no measurement.`,
        advice:
          'Look at the patient first. Check sensor, cuff or line, and measure again, by hand if no signal comes.',
      },
    ];

    function isZeroWithoutSignal(part: (typeof parts)[number]): boolean {
      return reading.values[part]?.number === 0 && zeroMeaning(vital, part, method) === 'no-signal';
    }
  },
};
