/** How far two measurements of the same thing may lie apart, and how near in time they must be. */
import {
  limit,
  OBSERVERS,
  OBSERVERS_BREATHING,
  PROPOSED,
  proposedAfter,
  THERMOMETER_SITES,
  TOLERABLE_ERROR,
  type Limit,
} from './limits-sources.js';
import type { Part, Vital } from './words.js';

/** Readings further apart in time than this are not compared (proposed). */
export const COMPARED_WITHIN_MS = 5 * 60_000;

/** A reading may be told as taken this much after its arrival (proposed: clocks differ). */
export const AHEAD_AT_MOST_MS = 5 * 60_000;

export interface Tolerance {
  /** Up to and including: the two agree. */
  readonly agree: Limit;
  /** Above: they contradict each other. Between the two a note is made. */
  readonly disagree: Limit;
}

/** Stethoscope or touch against the automatic cuff, same arm; mmHg. */
export const PRESSURE_TOLERANCE: Readonly<Record<'systolic' | 'diastolic', Tolerance>> = {
  systolic: { agree: limit(10, TOLERABLE_ERROR), disagree: limit(25, proposedAfter(OBSERVERS)) },
  diastolic: { agree: limit(10, TOLERABLE_ERROR), disagree: limit(20, proposedAfter(OBSERVERS)) },
};

/** Palpated against oximeter; beats a minute. */
export const PULSE_TOLERANCE: Tolerance = {
  agree: limit(10, OBSERVERS),
  disagree: limit(20, proposedAfter(OBSERVERS)),
};

/** Half or double: every second beat missed, or each counted twice. The ends belong to the ranges. */
export const PULSE_RATIOS: readonly { readonly from: number; readonly to: number }[] = [
  { from: 0.45, to: 0.55 },
  { from: 1.9, to: 2.1 },
];
export const PULSE_RATIO_SOURCE = PROPOSED;

/**
 * How near a second reading must come to support a doubtful one. Saturation has none: below 70 % no
 * accuracy is stated for oximeters. Nor have mean pressure, size and oxygen given.
 */
const SUPPORT: Readonly<Partial<Record<Vital, Limit>>> = {
  'blood-pressure': limit(10, TOLERABLE_ERROR),
  'pulse-rate': limit(10, OBSERVERS),
  'respiratory-rate': limit(6, OBSERVERS_BREATHING),
  'body-temperature': limit(0.6, THERMOMETER_SITES),
};

export function supportTolerance(vital: Vital, part: Part): Limit | null {
  return part === 'mean' ? null : (SUPPORT[vital] ?? null);
}

/** The distance of two values, free of the noise of binary fractions. */
export function distance(a: number, b: number): number {
  return Math.round(Math.abs(a - b) * 1e6) / 1e6;
}
