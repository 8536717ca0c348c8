/**
 * Palpated against oximeter pulse: two peripheral pulses. Their difference is no pulse deficit, which
 * is apex less radial.
 */
import {
  distance,
  PULSE_RATIO_SOURCE,
  PULSE_RATIOS,
  PULSE_TOLERANCE,
} from '../vitals/limits-agreement.js';
import { IRREGULAR_PULSE, type Source } from '../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import { earlierIds, findPairs, ownIndexes, type Pair } from './pairs.js';
import type { ReadingFacts, Remark } from './rule.js';
import { byMethod, clockTime, withUnit } from './wording.js';

const PALPATED_AGAINST_OXIMETER = {
  vital: 'pulse-rate',
  byHand: ['palpation'],
  byDevice: ['pulse-oximetry'],
} as const;

const COUNT_A_MINUTE =
  'The rhythm was told as irregular: count for 60 s at the wrist, better at the apex, and send that.';

interface Gap {
  readonly difference: number;
  /** By hand over by oximeter, to hundredths, where it is about a half or two; else null. */
  readonly ratio: number | null;
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
  const remarks: Remark[] = [];
  for (const pair of findPairs(PALPATED_AGAINST_OXIMETER, context, standing)) {
    const gap = findGap(pair);
    const contradicts = gap.ratio !== null || gap.difference > PULSE_TOLERANCE.disagree.at;
    if (!contradicts && gap.difference <= PULSE_TOLERANCE.agree.at) continue;
    const irregular = pair.byHand.context.regular === false;
    if (band !== (contradicts && !irregular ? 'disagree' : 'differ')) continue;
    remarks.push(remark(pair, gap, contradicts, irregular ? COUNT_A_MINUTE : advice));
  }
  return remarks;
}

function findGap({ byHand, byDevice }: Pair): Gap {
  const a = byHand.values.value?.number ?? 0;
  const b = byDevice.values.value?.number ?? 0;
  const ratio = b === 0 ? 0 : a / b;
  const suspicious = PULSE_RATIOS.some(({ from, to }) => ratio >= from && ratio <= to);
  return { difference: distance(a, b), ratio: suspicious ? Math.round(ratio * 100) / 100 : null };
}

function remark(
  pair: Pair,
  { difference, ratio }: Gap,
  contradicts: boolean,
  advice: string,
): Remark {
  const { byHand, byDevice, earlier } = pair;
  const { at: limit, source } = contradicts ? PULSE_TOLERANCE.disagree : PULSE_TOLERANCE.agree;
  const told = (reading: Reading): string =>
    `${byMethod(reading.method)} (${withUnit(reading.values.value?.text ?? '–', reading.vital)}${reading === earlier ? ` at ${clockTime(reading.takenAt)}` : ''})`;
  const beyond =
    ratio === null
      ? `; ${limit} /min is the limit`
      : `, one being about ${ratio < 1 ? 'half' : 'twice'} the other`;
  const discreetMessage = `Pulse ${byMethod(byHand.method)} and ${byMethod(byDevice.method)}, one of them sent before, differ by more than the limit.`;
  return {
    readings: ownIndexes(pair),
    ...earlierIds(pair),
    message: `Pulse ${told(byHand)} and ${told(byDevice)} differ by ${difference} /min${beyond}.`,
    ...(earlier === null ? {} : { discreetMessage }),
    advice,
    figures: { difference, limit, unit: '/min', ...(ratio === null ? {} : { ratio }) },
    sources: sourcesOf(pair, source, ratio),
  };
}

function sourcesOf({ byHand }: Pair, source: Source, ratio: number | null): readonly Source[] {
  const sources = ratio === null ? [source] : [source, PULSE_RATIO_SOURCE];
  return byHand.context.regular === false ? [...sources, IRREGULAR_PULSE] : sources;
}
