/** Stethoscope or touch against the automatic cuff on the same arm. */
import type { Limit } from '../vitals/limits-sources.js';
import type { Limits } from '../vitals/limits.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { earlierIds, findPairs, isSameArm, keptAt, ownIndexes, type Pair } from './pairs.js';
import type { ReadingFacts, Remark } from './rule.js';
import { distance, tolerance } from './tolerance.js';
import { byMethod, pressure, sentence } from './wording.js';

export const BY_HAND = ['auscultation', 'palpation'] as const;
export const BY_CUFF = ['oscillometry'] as const;

/** Two thresholds, two rules: `differ` between them, `disagree` above the second. */
type Band = 'differ' | 'disagree';

/** The parts that are compared. A mean is worked out by the device and by no ear. */
export type PressurePart = 'systolic' | 'diastolic';
export const PARTS_COMPARED: readonly PressurePart[] = ['systolic', 'diastolic'];

interface Gap {
  readonly part: PressurePart;
  readonly difference: number;
  readonly limit: Limit;
}

/** Remarks on the pairs whose gap lies in a band, worded alike by both rules. */
export function remarkOnPressures(
  band: Band,
  advice: string,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Remark[] {
  const { limits } = context;
  const windowMs = limits.ms('blood-pressure-methods-disagree.window');
  const comparison = {
    vital: 'blood-pressure',
    windowMs,
    byHand: BY_HAND,
    byDevice: BY_CUFF,
  } as const;
  const remarks: Remark[] = [];
  for (const pair of findPairs(comparison, context, standing)) {
    const gap = isSameArm(pair.byHand, pair.byDevice) ? findGap(limits, pair, band) : null;
    if (gap !== null) remarks.push(remark(pair, gap, advice));
  }
  return remarks;
}

/** How far two pressures may lie apart in one part and still agree, or not yet contradict each other. */
export function pressureTolerance(
  limits: Limits,
  band: Band,
  part: PressurePart,
  a: number,
  b: number,
): Limit {
  const rule = `blood-pressure-methods-${band}` as const;
  return tolerance(limits, `${rule}.${part}`, `${rule}.share`, a, b);
}

/** The gap that puts a pair into a band: of two parts in it the one further beyond its limit. */
function findGap(limits: Limits, { byHand, byDevice }: Pair, band: Band): Gap | null {
  let found: Gap | null = null;
  for (const part of PARTS_COMPARED) {
    const a = byHand.values[part]?.number;
    const b = byDevice.values[part]?.number;
    if (a === undefined || b === undefined) continue;
    const difference = distance(a, b);
    if (band === 'differ' && difference > pressureTolerance(limits, 'disagree', part, a, b).at) {
      return null;
    }
    const limit = pressureTolerance(limits, band, part, a, b);
    if (difference <= limit.at) continue;
    if (found === null || difference - limit.at > found.difference - found.limit.at) {
      found = { part, difference, limit };
    }
  }
  return found;
}

function remark(pair: Pair, { part, difference, limit }: Gap, advice: string): Remark {
  const { byHand, byDevice, earlier } = pair;
  const told = (reading: Reading): string =>
    `${byMethod(reading.method)} (${pressure(reading)}${keptAt(reading, earlier)})`;
  const kept = earlier === null ? {} : { discreetMessage: discreet(pair, part, limit) };
  return {
    readings: ownIndexes([byHand, byDevice], earlier),
    ...earlierIds(earlier),
    message: `${sentence(part)} pressure ${told(byHand)} and ${told(byDevice)} differ by ${difference} mmHg; ${limit.at} mmHg is the limit.`,
    ...kept,
    advice,
    figures: { difference, limit: limit.at, unit: 'mm[Hg]' },
    sources: [limit.source],
  };
}

function discreet({ byHand, byDevice }: Pair, part: string, limit: Limit): string {
  return `${sentence(part)} pressure ${byMethod(byHand.method)} and ${byMethod(byDevice.method)}, one of them sent before, differ by more than ${limit.at} mmHg.`;
}
