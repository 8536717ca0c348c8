import { CHARACTER_SET } from '../../vitals/limits-sources-devices.js';
import { HELD, reportRule } from '../report-rule.js';

/**
 * No doubt about whose it is: digits and identifiers are ASCII in every character set that HL7 table 0211
 * names for such messages, and a garbled identifier or name is for the identity rules, which compare both.
 */
export const characterSetBroken = reportRule('character-set-broken', HELD, {
  words: 'Parts of the message cannot be read in the character set that it is in, or should be.',
  clause: () =>
    'parts of its message cannot be read in the character set that it names, so names and remarks may be garbled',
  advice: 'Read remarks and names in the message itself, and have its character set put right.',
  source: CHARACTER_SET,
});
