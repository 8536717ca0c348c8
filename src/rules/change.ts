/**
 * Change against the patient's own readings of the same sign, taken in the same way. With few earlier
 * values a fixed limit from the one before; with more of them their own spread.
 */
import type { Limits } from '../vitals/limits.js';
import type { NamedSettingId } from '../vitals/settings.js';
import type { JudgingContext, Reading } from '../vitals/shapes.js';
import type { Part, Vital } from '../vitals/words.js';
import {
  median,
  ownValues,
  robustDeviation,
  timeBefore,
  withoutNoise,
  type OwnValue,
} from './own-values.js';
import type { ReadingFacts, Remark } from './rule.js';
import { amount, sentence, signName, withUnit } from './wording.js';

const ADVICE = 'Look at the patient, and measure again if you did not expect this.';

interface Step {
  readonly limit: NamedSettingId;
  readonly window: NamedSettingId;
}

/** The limit of a change from the value before, and how long before that may lie. */
export interface FixedLimit extends Step {
  /** A smaller limit for a shorter time. */
  readonly soon?: Step;
  /** Only a fall is worth a note, and a fall by the limit itself is one. */
  readonly onlyFall?: true;
}

interface Change {
  readonly difference: number;
  readonly limit: number;
  readonly comparison: string;
  readonly figures: Readonly<Record<string, number>>;
}

/** Remarks on the readings of a sign: one a reading, about the first of its numbers that changed. */
export function remarkOnChange(
  context: JudgingContext,
  standing: readonly ReadingFacts[],
  vital: Vital,
  parts: readonly (readonly [Part, FixedLimit])[],
): readonly Remark[] {
  const { history } = context;
  if (history.length === 0) return [];
  const remarks: Remark[] = [];
  for (const { reading, slip } of standing) {
    if (reading.vital !== vital || slip !== null) continue;
    for (const [part, fixed] of parts) {
      const change = findChange(reading, part, fixed, context);
      if (change === null) continue;
      remarks.push(remark(reading, part, fixed, change, context.limits));
      break;
    }
  }
  return remarks;
}

function findChange(
  reading: Reading,
  part: Part,
  fixed: FixedLimit,
  { history, limits }: JudgingContext,
): Change | null {
  const value = reading.values[part]?.number;
  if (value === undefined) return null;
  const own = ownValues(reading, part, history, limits.ms('blood-pressure-changed.own-window'));
  if (own.length >= limits.at('blood-pressure-changed.own-values')) {
    return changeFromSpread(reading, value, own, fixed, limits);
  }
  const last = own.at(-1);
  if (last === undefined) return null;
  const agoMs = reading.takenAt.epochMs - last.past.takenAt.epochMs;
  const { soon } = fixed;
  const step = soon !== undefined && agoMs <= limits.ms(soon.window) ? soon : fixed;
  if (agoMs > limits.ms(step.window)) return null;
  const limit = limits.at(step.limit);
  const difference = withoutNoise(value - last.value);
  const beyond = fixed.onlyFall === true ? -difference >= limit : Math.abs(difference) > limit;
  if (!beyond) return null;
  const before = withUnit(last.past.values[part]?.text ?? '', reading.vital);
  const comparison = `${before} at ${timeBefore(last.past.takenAt, reading.takenAt)}`;
  return { difference, limit, comparison, figures: { before: last.value } };
}

function changeFromSpread(
  { vital }: Reading,
  value: number,
  own: readonly OwnValue[],
  fixed: FixedLimit,
  limits: Limits,
): Change | null {
  const least = limits.at('blood-pressure-changed.own-least') * limits.at(fixed.limit);
  // With more than half of the values so near, the median is near too: the usual case, without sorting.
  let near = 0;
  for (const one of own) if (Math.abs(one.value - value) <= least) near += 1;
  if (2 * near > own.length) return null;
  const values = own.map((one) => one.value);
  const centre = median(values);
  const spread = limits.at('blood-pressure-changed.own-spread') * robustDeviation(values);
  const limit = withoutNoise(Math.max(spread, least));
  const difference = withoutNoise(value - centre);
  const beyond = fixed.onlyFall === true ? -difference > limit : Math.abs(difference) > limit;
  if (!beyond) return null;
  const comparison = `${withUnit(centre, vital)}, the median of ${own.length} earlier ones`;
  return { difference, limit, comparison, figures: { median: centre, values: own.length } };
}

function remark(
  reading: Reading,
  part: Part,
  fixed: FixedLimit,
  { difference, limit, comparison, figures }: Change,
  limits: Limits,
): Remark {
  const name = sentence(signName(reading.vital, part));
  const direction = difference < 0 ? 'lower' : 'higher';
  const shown = Math.round(limit * 100) / 100;
  return {
    readings: [reading.index],
    message: `${name} ${amount(reading, part)} is ${Math.abs(difference)} ${direction} than the patient’s own ${comparison}; ${shown} is the limit.`,
    discreetMessage: `${name} ${amount(reading, part)} is further than the limit from the patient’s own earlier values.`,
    advice: ADVICE,
    figures: {
      difference: Math.abs(difference),
      limit: shown,
      unit: reading.unit ?? '',
      ...figures,
    },
    sources: [limits.setting(fixed.limit).source],
  };
}
