/**
 * Palpated against oximeter pulse: two peripheral pulses. Their difference is no pulse deficit, which
 * is apex less radial.
 */
import { IRREGULAR_PULSE, type Limit, type Source } from '../vitals/limits-sources.js';
import type { Limits } from '../vitals/limits.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { earlierIds, findPairs, keptAt, ownIndexes, type Pair } from './pairs.js';
import type { ReadingFacts, Remark } from './rule.js';
import { distance, tolerance } from './tolerance.js';
import { byMethod, withUnit } from './wording.js';

const COUNT_A_MINUTE =
  'The rhythm was told as irregular: count for 60 s at the wrist, better at the apex, and send that.';

interface Gap {
  readonly difference: number;
  /** By hand over by oximeter, to hundredths, where it is about a half or two; else null. */
  readonly ratio: number | null;
  readonly agree: Limit;
  readonly disagree: Limit;
}

/**
 * The pairs that differ (`differ`) or contradict each other (`disagree`). Where the rhythm is irregular
 * the two may differ and both be right, so such a pair never contradicts itself.
 */
export function remarkOnPulses(
  band: 'differ' | 'disagree',
  advice: string,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Remark[] {
  const comparison = {
    vital: 'pulse-rate',
    windowMs: context.limits.ms('pulse-methods-disagree.window'),
    byHand: ['palpation'],
    byDevice: ['pulse-oximetry'],
  } as const;
  const remarks: Remark[] = [];
  for (const pair of findPairs(comparison, context, standing)) {
    const gap = findGap(context.limits, pair.byHand, pair.byDevice);
    const contradicts = doContradict(gap);
    if (!contradicts && gap.difference <= gap.agree.at) continue;
    const irregular = isIrregular(pair.byHand, pair.byDevice);
    if (band !== (contradicts && !irregular ? 'disagree' : 'differ')) continue;
    remarks.push(remark(context.limits, pair, gap, irregular ? COUNT_A_MINUTE : advice));
  }
  return remarks;
}

/** One of the two told it is enough: the rhythm is the patient's. */
function isIrregular(a: Reading, b: Reading): boolean {
  return a.context.regular === false || b.context.regular === false;
}

function doContradict({ difference, ratio, disagree }: Gap): boolean {
  return ratio !== null || difference > disagree.at;
}

/** Whether a palpated and an oximeter pulse contradict each other. */
export function pulsesContradict(limits: Limits, byHand: Reading, byDevice: Reading): boolean {
  return !isIrregular(byHand, byDevice) && doContradict(findGap(limits, byHand, byDevice));
}

/** Whether two pulses agree: near enough, and neither about half of the other. */
export function pulsesAgree(limits: Limits, a: Reading, b: Reading): boolean {
  const { difference, ratio, agree } = findGap(limits, a, b);
  return ratio === null && findGap(limits, b, a).ratio === null && difference <= agree.at;
}

function findGap(limits: Limits, byHand: Reading, byDevice: Reading): Gap {
  const a = byHand.values.value?.number ?? 0;
  const b = byDevice.values.value?.number ?? 0;
  const ratio = b === 0 ? 0 : a / b;
  const isHalf =
    ratio >= limits.at('pulse-methods-disagree.half-from') &&
    ratio <= limits.at('pulse-methods-disagree.half-to');
  const isDouble =
    ratio >= limits.at('pulse-methods-disagree.double-from') &&
    ratio <= limits.at('pulse-methods-disagree.double-to');
  const within = (rule: 'pulse-methods-differ' | 'pulse-methods-disagree'): Limit =>
    tolerance(limits, `${rule}.difference`, `${rule}.share`, a, b);
  return {
    difference: distance(a, b),
    ratio: isHalf || isDouble ? Math.round(ratio * 100) / 100 : null,
    agree: within('pulse-methods-differ'),
    disagree: within('pulse-methods-disagree'),
  };
}

function remark(limits: Limits, pair: Pair, gap: Gap, advice: string): Remark {
  const { byHand, byDevice, earlier } = pair;
  const { difference, ratio, agree, disagree } = gap;
  const { at: limit, source } = doContradict(gap) ? disagree : agree;
  const told = (reading: Reading): string =>
    `${byMethod(reading.method)} (${withUnit(reading.values.value?.text ?? '–', reading.vital)}${keptAt(reading, earlier)})`;
  const beyond =
    ratio === null
      ? `; ${limit} /min is the limit`
      : `, one being about ${ratio < 1 ? 'half' : 'twice'} the other`;
  const discreetMessage = `Pulse ${byMethod(byHand.method)} and ${byMethod(byDevice.method)}, one of them sent before, differ by more than the limit.`;
  return {
    readings: ownIndexes([byHand, byDevice], earlier),
    ...earlierIds(earlier),
    message: `Pulse ${told(byHand)} and ${told(byDevice)} differ by ${difference} /min${beyond}.`,
    ...(earlier === null ? {} : { discreetMessage }),
    advice,
    figures: { difference, limit, unit: '/min', ...(ratio === null ? {} : { ratio }) },
    sources: sourcesOf(limits, pair, source, ratio),
  };
}

function sourcesOf(
  limits: Limits,
  { byHand, byDevice }: Pair,
  source: Source,
  ratio: number | null,
): readonly Source[] {
  const ofRatio = ratio !== null && ratio < 1 ? 'half-from' : 'double-from';
  const sources =
    ratio === null
      ? [source]
      : [source, limits.setting(`pulse-methods-disagree.${ofRatio}`).source];
  return isIrregular(byHand, byDevice) ? [...sources, IRREGULAR_PULSE] : sources;
}
