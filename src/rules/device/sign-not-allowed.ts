import { DEVICE_REGISTRATION } from '../../vitals/limits-sources-devices.js';
import { readingsWhere } from '../device-facts.js';
import { remarkEachOrAll } from '../each-or-all.js';
import { subjectOf } from '../report-rule.js';
import type { SetRule } from '../rule.js';

export const signNotAllowed: SetRule = {
  id: 'sign-not-allowed',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'The device is registered for other signs than the one that it brought.',
  source: DEVICE_REGISTRATION,
  since: 1,
  check: (context) => {
    const { set } = context;
    const concerned = readingsWhere(
      context,
      ({ signs }, { vital }) => signs !== null && !signs.includes(vital),
    );
    return remarkEachOrAll(set, concerned, (about) => ({
      message: `${subjectOf(about, set)}: the device is registered for other signs, so the device or the code may be a wrong one.`,
      advice: 'See what the device measures, and have its registration or the message put right.',
    }));
  },
};
