/** The figures of pairs: how they agree, and whether that has moved. */
import type { SummedPoint, Usual, WeightedAverages } from '../../../statistics/drift.js';
import { cumulativeSums, usualSumLimits, weightedAverages } from '../../../statistics/drift.js';
import type { LinkedAgreement } from '../../../statistics/linked-pairs.js';
import { linkedAgreement } from '../../../statistics/linked-pairs.js';
import type { Shares, ValidationFigures } from '../../../statistics/pressure-accuracy.js';
import { sharesWithin, validationFigures } from '../../../statistics/pressure-accuracy.js';
import type { ProportionalBias } from '../../../statistics/proportional-bias.js';
import { proportionalBias } from '../../../statistics/proportional-bias.js';
import { mean, standardDeviation } from '../../../statistics/summary.js';
import type { Difference } from './compare-pairs.js';

/** With fewer, figures say more about chance than about the methods (common practice, no source). */
export const PAIRS_AT_LEAST = 10;
export const PATIENTS_AT_LEAST = 3;

/** How many differences tell what was usual, and how many must follow them before drift is looked for. */
export const USUAL_PAIRS = 30;
const FOLLOWING_PAIRS = 10;

export interface Figures {
  readonly agreement: LinkedAgreement;
  readonly shares: Shares;
  readonly validation: ValidationFigures | null;
  readonly proportional: ProportionalBias | null;
}

export interface Counted {
  readonly pairs: number;
  readonly patients: number;
  /** Null: too few pairs or patients. */
  readonly figures: Figures | null;
}

function byPatient(differences: readonly Difference[]): number[][] {
  const groups = new Map<number, number[]>();
  for (const { patient, difference } of differences) {
    const group = groups.get(patient);
    if (group === undefined) groups.set(patient, [difference]);
    else group.push(difference);
  }
  return [...groups.values()];
}

export function countAgreement(differences: readonly Difference[]): Counted {
  const patients = byPatient(differences);
  const counted = { pairs: differences.length, patients: patients.length };
  const isEnough = counted.pairs >= PAIRS_AT_LEAST && counted.patients >= PATIENTS_AT_LEAST;
  const agreement = isEnough ? linkedAgreement(patients) : null;
  if (agreement === null) return { ...counted, figures: null };
  return {
    ...counted,
    figures: {
      agreement,
      shares: sharesWithin(patients.flat()),
      validation: validationFigures(patients),
      proportional: proportionalBias(differences),
    },
  };
}

export interface Drift {
  readonly usual: Usual;
  /** The differences after those that tell what was usual, oldest first, and one point of each chart for each. */
  readonly differences: readonly Difference[];
  readonly weighted: WeightedAverages;
  readonly summed: readonly SummedPoint[];
  /** How much may pile up. */
  readonly decision: number;
}

/**
 * The least shift that is looked for, mmHg or /min: half of it is what each difference is allowed. A mean
 * error of 5 mmHg is what ISO 81060-2 puts up with, and what is usual is itself known from some pairs only.
 */
const LEAST_SHIFT = 5;

/** A single difference counts as no farther from what was usual: one slip of a finger is no drift. */
const MOST_DEVIATIONS = 3;

/** Whether differences moved away from what the first of them were. Null: too few, or no spread among them. */
export function findDrift(differences: readonly Difference[]): Drift | null {
  const usualOnes = differences.slice(0, USUAL_PAIRS).map(({ difference }) => difference);
  const following = differences.slice(USUAL_PAIRS);
  const usual = { middle: mean(usualOnes), deviation: standardDeviation(usualOnes) };
  if (following.length < FOLLOWING_PAIRS || usual.deviation === 0) return null;
  const farthest = MOST_DEVIATIONS * usual.deviation;
  const values = following.map(
    ({ difference }) =>
      usual.middle + Math.min(farthest, Math.max(-farthest, difference - usual.middle)),
  );
  const limits = usualSumLimits(usual);
  const allowance = Math.max(limits.allowance, LEAST_SHIFT / 2);
  return {
    usual,
    differences: following,
    weighted: weightedAverages(values, usual),
    summed: cumulativeSums(values, usual.middle, { ...limits, allowance }),
    decision: limits.decision,
  };
}

export interface DriftState {
  readonly state: 'too-few' | 'steady' | 'risen' | 'fallen';
  /** When the sums began to grow that give the signal. */
  readonly sinceMs: number | null;
}

/** Where the piled-up sums stand at the last pair. */
export function driftState(drift: Drift | null): DriftState {
  const last = drift?.summed.at(-1);
  if (drift === null || last === undefined) return { state: 'too-few', sinceMs: null };
  if (last.signal === null) return { state: 'steady', sinceMs: null };
  const since = last.since === null ? undefined : drift.differences[last.since];
  return { state: last.signal === 'high' ? 'risen' : 'fallen', sinceMs: since?.atMs ?? null };
}
