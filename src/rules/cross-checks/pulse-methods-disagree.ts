import { OBSERVERS, proposedAfter } from '../../vitals/limits-sources.js';
import { remarkOnPulses } from '../pulse-pairs.js';
import type { AcrossRule } from '../rule.js';

const ADVICE =
  'Count again for 60 s, check the window of the count and the sensor, and send both once more.';

export const pulseMethodsDisagree: AcrossRule = {
  id: 'pulse-methods-disagree',
  stage: 'across',
  verdict: 'held',
  hold: 'value',
  words: 'Palpated and oximeter pulse of a regular rhythm contradict each other.',
  source: proposedAfter(OBSERVERS),
  since: 1,
  appliesTo: ['pulse-rate'],
  check: (context, standing) => remarkOnPulses('disagree', ADVICE, context, standing),
};
