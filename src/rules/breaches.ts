/** Which numbers of a reading lie outside their bounds: shared by the rules of size and their lifting. */
import { zeroMeaning, type PlausibleLimits } from '../vitals/limits-plausible.js';
import type { Limit } from '../vitals/limits-sources.js';
import type { Limits } from '../vitals/limits.js';
import type { Reading } from '../vitals/shapes.js';
import type { Part } from '../vitals/words.js';
import type { ReadingFacts, Remark } from './rule.js';
import { amount, listed, sentence, signName, withUnit } from './wording.js';

export interface Breach {
  readonly part: Part;
  readonly value: number;
  readonly low: boolean;
  readonly limit: Limit;
}

const NO_BREACHES: readonly Breach[] = [];

/**
 * The numbers outside the reject bounds (`reject`) or outside the hold bounds (`hold`). A number that
 * reads as another unit, and a zero that is no measurement, are the business of other rules.
 */
export function findBreaches(
  facts: ReadingFacts,
  bounds: 'reject' | 'hold',
  limits: Limits,
): readonly Breach[] {
  const { reading, age, slip, parts } = facts;
  const { vital, method } = reading;
  if (slip !== null || vital === 'consciousness') return NO_BREACHES;
  let breaches: Breach[] | null = null;
  for (const part of parts) {
    const value = reading.values[part]?.number;
    if (value === undefined) continue;
    if (value === 0 && zeroMeaning(vital, part, method) !== null) continue;
    const breach = breachOf(part, value, limits.plausible(vital, part, method, age), bounds);
    if (breach !== null) (breaches ??= []).push(breach);
  }
  return breaches ?? NO_BREACHES;
}

function breachOf(
  part: Part,
  value: number,
  limits: PlausibleLimits,
  bounds: 'reject' | 'hold',
): Breach | null {
  const low = bounds === 'reject' ? limits.rejectBelow : limits.holdBelow;
  if (low !== null && value < low.at) return { part, value, low: true, limit: low };
  const high = bounds === 'reject' ? limits.rejectAbove : limits.holdAbove;
  if (high !== null && value > high.at) return { part, value, low: false, limit: high };
  return null;
}

/** "Systolic pressure 1208 mmHg is above 300 mmHg and diastolic pressure …". */
export function breachText(reading: Reading, breaches: readonly Breach[]): string {
  const clauses = breaches.map(({ part, low, limit }) => {
    const bound = withUnit(limit.at, reading.vital);
    return `${signName(reading.vital, part)} ${amount(reading, part)} is ${low ? 'below' : 'above'} ${bound}`;
  });
  return sentence(listed(clauses));
}

/** Figures and sources of breaches: the figures are those of the first. */
export function breachFigures(
  reading: Reading,
  breaches: readonly Breach[],
): Pick<Remark, 'figures' | 'sources'> {
  const sources = breaches.map(({ limit }) => limit.source);
  const [first] = breaches;
  if (first === undefined) return { sources };
  return {
    sources,
    figures: { value: first.value, limit: first.limit.at, unit: reading.unit ?? '' },
  };
}
