import { DEVICE_REGISTRATION } from '../../vitals/limits-sources-devices.js';
import { readingsWhere } from '../device-facts.js';
import { remarkEachOrAll } from '../each-or-all.js';
import { subjectOf } from '../report-rule.js';
import type { SetRule } from '../rule.js';

export const deviceDisabled: SetRule = {
  id: 'device-disabled',
  stage: 'set',
  verdict: 'held',
  hold: 'value',
  words: 'The device was taken out of use.',
  source: DEVICE_REGISTRATION,
  since: 1,
  check: (context) => {
    const { set } = context;
    const concerned = readingsWhere(context, ({ disabled }) => disabled);
    return remarkEachOrAll(set, concerned, (about) => ({
      message: `${subjectOf(about, set)}: the device is registered as out of use.`,
      advice:
        'Measure again with another device. Have this one checked, or its registration put right.',
    }));
  },
};
