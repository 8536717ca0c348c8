/** Rules that put into words what a message itself says against the patient that it names. */
import type { IdentityDoubt } from '../vitals/device-report.js';
import type { Source } from '../vitals/limits-sources.js';
import { NO_REMARKS, type SetRule } from './rule.js';

interface ClaimWords {
  /** In one sentence, for the list of rules. */
  readonly words: string;
  readonly message: string;
  readonly advice: string;
  readonly source: Source;
}

/** The rule of a doubt, named like it. */
export function claimRule(doubt: IdentityDoubt, { message, advice, ...face }: ClaimWords): SetRule {
  return {
    id: doubt,
    stage: 'set',
    asksWho: true,
    verdict: 'held',
    hold: 'identity',
    ...face,
    since: 1,
    check: ({ set }) =>
      set.claim?.doubts.includes(doubt) === true ? [{ readings: [], message, advice }] : NO_REMARKS,
  };
}
