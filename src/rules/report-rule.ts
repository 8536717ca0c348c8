/** Rules that put into words what the reader of a device's message could not vouch for. */
import type { ReportDoubt } from '../vitals/device-report.js';
import type { Source } from '../vitals/limits-sources.js';
import type { JudgingContext, NormalisedSet, Reading } from '../vitals/shapes.js';
import { remarkEachOrAll } from './each-or-all.js';
import { hasDoubt } from './report-doubts.js';
import { NO_REMARKS, type Outcome, type SetRule } from './rule.js';
import { sentence, signName } from './wording.js';

export const REJECTED = { verdict: 'rejected' } as const;
/** It may be another sign, value or time than it seems. A critical one goes out at once all the same, marked. */
export const HELD = { verdict: 'held', hold: 'value' } as const;
export const NOTED = { verdict: 'noted' } as const;

interface DoubtWords {
  /** In one sentence, for the list of rules. */
  readonly words: string;
  /** A sentence about what was sent, after whatever it is about: "it is …". */
  readonly clause: (about: readonly Reading[], context: JudgingContext) => string;
  readonly advice: string;
  readonly source: Source;
}

/** The rule of a doubt, named like it: one finding where it is about the whole message. */
export function reportRule(
  doubt: ReportDoubt,
  outcome: Outcome,
  { words, clause, advice, source }: DoubtWords,
): SetRule {
  return {
    id: doubt,
    stage: 'set',
    ...outcome,
    words,
    source,
    since: 1,
    check: (context) => {
      const { set } = context;
      if (!set.readings.some((reading) => hasDoubt(reading, doubt))) return NO_REMARKS;
      const concerned = set.readings.filter((reading) => hasDoubt(reading, doubt));
      return remarkEachOrAll(set, concerned, (about) => ({
        message: `${subjectOf(about, set)}: ${clause(about, context)}.`,
        advice,
      }));
    },
  };
}

/** "Pulse rate (OBX 4)", "3 readings of this set", or the whole of it. */
export function subjectOf(
  about: readonly Reading[],
  { readings }: Pick<NormalisedSet, 'readings'>,
): string {
  const [reading] = about;
  if (reading === undefined || about.length > 1) {
    return about.length === readings.length
      ? 'Each reading of this set'
      : `${about.length} readings of this set`;
  }
  const at = reading.report === undefined ? '' : ` (${reading.report.at})`;
  return `${sentence(signName(reading.vital, 'value'))}${at}`;
}

/** Said after a time that cannot be used, where that of the arrival was taken instead. */
export function arrivalInstead(
  about: readonly Reading[],
  { receivedAtMs }: Pick<JudgingContext, 'receivedAtMs'>,
): string {
  return about.every(({ takenAt }) => takenAt.epochMs === receivedAtMs)
    ? '; the time of its arrival stands in its place'
    : '';
}
