import { TIME_ZONE } from '../../vitals/limits-sources-devices.js';
import { arrivalInstead, HELD, reportRule } from '../report-rule.js';

export const timeZoneMissing = reportRule('time-zone-missing', HELD, {
  words: 'The time of measuring was told without an offset, and it is not known in which zone.',
  clause: (about, context) =>
    `the time of measuring was told without an offset that would make it certain, so it may be hours off${arrivalInstead(about, context)}`,
  advice: 'Have the message tell the offset of its times, or the zone of the sender registered.',
  source: TIME_ZONE,
});
