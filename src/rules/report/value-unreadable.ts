import { NUMBER_FORM } from '../../vitals/limits-sources-devices.js';
import { quoteSent } from '../quote-sent.js';
import { REJECTED, reportRule } from '../report-rule.js';

export const valueUnreadable = reportRule('value-unreadable', REJECTED, {
  words: 'What was sent as the value cannot be read as one; nothing is guessed.',
  clause: (about) =>
    `${quoteSent(about) ?? 'what was sent as its value'} cannot be read as one value`,
  advice:
    'Read the value from the device and chart it by hand. Have the message put right: digits with a point, no comma, no exponent, one value a row.',
  source: NUMBER_FORM,
});
