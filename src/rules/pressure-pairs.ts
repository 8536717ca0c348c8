/** Stethoscope or touch against the automatic cuff on the same arm. */
import { distance, PRESSURE_TOLERANCE } from '../vitals/limits-agreement.js';
import type { Limit } from '../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { earlierIds, findPairs, ownIndexes, type Pair } from './pairs.js';
import type { ReadingFacts, Remark } from './rule.js';
import { byMethod, clockTime, pressure, sentence } from './wording.js';

const MANUAL_AGAINST_AUTOMATIC = {
  vital: 'blood-pressure',
  byHand: ['auscultation', 'palpation'],
  byDevice: ['oscillometry'],
} as const;

/** Two thresholds, two rules: `differ` between them, `disagree` above the second. */
type Band = 'differ' | 'disagree';

interface Gap {
  readonly part: 'systolic' | 'diastolic';
  readonly difference: number;
  readonly limit: Limit;
}

const PARTS_COMPARED = ['systolic', 'diastolic'] as const;

/** Remarks on the pairs whose gap lies in a band, worded alike by both rules. */
export function remarkOnPressures(
  band: Band,
  advice: string,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Remark[] {
  const remarks: Remark[] = [];
  for (const pair of findPairs(MANUAL_AGAINST_AUTOMATIC, context, standing)) {
    const gap = isSameArm(pair.byHand, pair.byDevice) ? findGap(pair, band) : null;
    if (gap !== null) remarks.push(remark(pair, gap, advice));
  }
  return remarks;
}

/** A side, site or position that one of them does not tell counts as the same. */
function isSameArm(a: Reading, b: Reading): boolean {
  return (
    isSameIfTold(a.side, b.side) &&
    isSameIfTold(a.site, b.site) &&
    isSameIfTold(a.position, b.position)
  );
}

function isSameIfTold<T>(a: T | null, b: T | null): boolean {
  return a === null || b === null || a === b;
}

/** The gap that puts a pair into a band: of two parts in it the one further beyond its limit. */
function findGap({ byHand, byDevice }: Pair, band: Band): Gap | null {
  let found: Gap | null = null;
  for (const part of PARTS_COMPARED) {
    const a = byHand.values[part]?.number;
    const b = byDevice.values[part]?.number;
    if (a === undefined || b === undefined) continue;
    const difference = distance(a, b);
    const { agree, disagree } = PRESSURE_TOLERANCE[part];
    if (band === 'differ' && difference > disagree.at) return null;
    const limit = band === 'differ' ? agree : disagree;
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
    `${byMethod(reading.method)} (${pressure(reading)}${reading === earlier ? ` at ${clockTime(reading.takenAt)}` : ''})`;
  const kept = earlier === null ? {} : { discreetMessage: discreet(pair, part, limit) };
  return {
    readings: ownIndexes(pair),
    ...earlierIds(pair),
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
