import { OBSERVERS } from '../../vitals/limits-sources.js';
import { remarkOnPulses } from '../pulse-pairs.js';
import type { AcrossRule } from '../rule.js';

const ADVICE =
  'Count again for 60 s and compare; check that the sensor sits well and the hand is warm.';

export const pulseMethodsDiffer: AcrossRule = {
  id: 'pulse-methods-differ',
  stage: 'across',
  verdict: 'noted',
  words: 'Palpated and oximeter pulse differ more than two good measurements of a steady pulse do.',
  source: OBSERVERS,
  since: 1,
  appliesTo: ['pulse-rate'],
  check: (context, standing) => remarkOnPulses('differ', ADVICE, context, standing),
};
