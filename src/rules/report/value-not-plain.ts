import { NUMBER_FORM } from '../../vitals/limits-sources-devices.js';
import { quoteSent } from '../quote-sent.js';
import { HELD, reportRule } from '../report-rule.js';

/** Held, not rejected: a saturation of "less than 70" is the last one to be lost. */
export const valueNotPlain = reportRule('value-not-plain', HELD, {
  words: 'A value was sent as a bound ("less than 70") or as text, not as a plain number.',
  clause: (about) =>
    `it was sent as ${quoteSent(about) ?? 'a bound or a text'}, not as a plain number, so the number may not be the value itself`,
  advice:
    'Read the value from the device. Have the message send what is measured as a plain number.',
  source: NUMBER_FORM,
});
