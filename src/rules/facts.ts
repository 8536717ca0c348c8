/** Works out once what the rules ask again and again about each reading. */
import { makeAgeTeller } from '../vitals/age.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { PARTS, type Part } from '../vitals/words.js';
import type { ReadingFacts } from './rule.js';
import { findUnitSlip } from './unit-slips.js';

const NO_PARTS: readonly Part[] = [];
const VALUE_ONLY: readonly Part[] = ['value'];

export function collectFacts(
  context: JudgingContext,
  identityDoubted: boolean,
): readonly ReadingFacts[] {
  const ageAt = makeAgeTeller(context, identityDoubted);
  return context.set.readings.map((reading) => {
    const age = ageAt(reading);
    return {
      reading,
      age,
      slip: findUnitSlip(reading, age, context.limits),
      parts: partsOf(reading),
    };
  });
}

function partsOf(reading: Reading): readonly Part[] {
  if (reading.values.value !== undefined) return VALUE_ONLY;
  if (reading.vital !== 'blood-pressure') return NO_PARTS;
  const meanCounts = !isMeanOutside(reading);
  return PARTS.filter(
    (part) => reading.values[part] !== undefined && (part !== 'mean' || meanCounts),
  );
}

/**
 * Whether a mean contradicts the pressures beside it: it lies between them by definition. Pressures that
 * contradict each other say nothing about their mean.
 */
export function isMeanOutside({ values }: Reading): boolean {
  const { systolic, diastolic, mean } = values;
  if (mean === undefined) return false;
  if (systolic && diastolic && systolic.number <= diastolic.number) return false;
  return (
    (systolic !== undefined && mean.number >= systolic.number) ||
    (diastolic !== undefined && mean.number <= diastolic.number)
  );
}
