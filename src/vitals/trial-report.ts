/** What a changed configuration would have changed: the report of a trial. */
import type { Verdict } from './words.js';

/** Verdicts that would be others, and the rule that says something else. */
export interface TrialLine {
  readonly rule: string;
  readonly from: Verdict;
  readonly to: Verdict;
  /** The widest place of the set's location; null: it named none. */
  readonly ward: string | null;
  readonly readings: number;
  /** Ids of readings, the first ones met. */
  readonly examples: readonly string[];
}

export interface TrialDirection {
  readonly from: Verdict;
  readonly to: Verdict;
  readonly readings: number;
}

export interface TrialReport {
  /** Sets that were judged. */
  readonly sets: number;
  /** Sets that the contract would no longer take as they came; left out. */
  readonly unreadable: number;
  readonly readings: number;
  /** Readings whose verdict would be another. */
  readonly changed: number;
  /** Readings that would be published at once and were not, or the other way round. */
  readonly otherPublication: number;
  /** Readings whose interpretation (LL to HH) would be another. */
  readonly otherInterpretation: number;
  /** Held readings of earlier sets that a repeat would release and did not, or the other way round. */
  readonly otherReleases: number;
  /** Each changed reading once. */
  readonly byDirection: readonly TrialDirection[];
  /** A reading stands on the line of each rule that says something else about it. */
  readonly byRule: readonly TrialLine[];
}
