import { NUMBER_FORM } from '../../vitals/limits-sources-devices.js';
import type { Reading } from '../../vitals/shapes.js';
import { REJECTED, reportRule } from '../report-rule.js';

/** Enough to know it again by. */
const SHOWN_CHARACTERS = 60;

function asSent(about: readonly Reading[]): string {
  const [reading] = about;
  const sent = reading?.report?.asSent;
  if (about.length > 1 || sent === undefined) return 'what was sent as its value';
  return `"${sent.length > SHOWN_CHARACTERS ? `${sent.slice(0, SHOWN_CHARACTERS)}…` : sent}"`;
}

export const valueUnreadable = reportRule('value-unreadable', REJECTED, {
  words: 'What was sent as the value cannot be read as one; nothing is guessed.',
  clause: (about) => `${asSent(about)} cannot be read as one value`,
  advice:
    'Read the value from the device and chart it by hand. Have the message put right: digits with a point, no comma, no exponent, one value a row.',
  source: NUMBER_FORM,
});
