import type { Limits } from '../vitals/limits.js';
import { findBreaches } from './breaches.js';
import type { ReadingFacts } from './rule.js';

interface PulsePressure {
  readonly systolic: number;
  readonly diastolic: number;
  readonly difference: number;
}

/**
 * Systolic less diastolic in mmHg. Null where one is missing or cannot be a measurement, where the unit
 * is doubted, or where the systolic is not the higher one: other rules speak of these.
 */
export function findPulsePressure(facts: ReadingFacts, limits: Limits): PulsePressure | null {
  const { values } = facts.reading;
  const systolic = values.systolic?.number;
  const diastolic = values.diastolic?.number;
  if (systolic === undefined || diastolic === undefined || facts.slip !== null) return null;
  if (diastolic === 0 || findBreaches(facts, 'reject', limits).length > 0) return null;
  // Free of the noise of binary fractions: pressures from kilopascal have tenths.
  const difference = Math.round((systolic - diastolic) * 1e6) / 1e6;
  return difference > 0 ? { systolic, diastolic, difference } : null;
}
