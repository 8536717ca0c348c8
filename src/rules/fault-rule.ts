/** Rules that put into words why a reading could not become a value; `normalise` found the fault. */
import { SUBMISSION_FORM, type Source } from '../vitals/limits-sources.js';
import type { Reading, ReadingFault } from '../vitals/shapes.js';
import { NO_REMARKS, type ReadingRule } from './rule.js';

interface FaultWords {
  /** In one sentence, for the list of rules. */
  readonly words: string;
  readonly message: (reading: Reading) => string;
  readonly advice: string;
  readonly source?: Source;
}

/** The rule of a fault, named like it. */
export function faultRule(
  fault: ReadingFault,
  { words, message, advice, source = SUBMISSION_FORM }: FaultWords,
): ReadingRule {
  return {
    id: fault,
    stage: 'reading',
    verdict: 'rejected',
    words,
    source,
    since: 1,
    check: ({ reading }) =>
      reading.faults.includes(fault)
        ? [{ readings: [reading.index], message: message(reading), advice }]
        : NO_REMARKS,
  };
}
