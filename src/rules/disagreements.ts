/**
 * Two readings that contradict each other, and what a third one within the window makes of it. Which
 * rules hold for a contradiction stands here once; `lifting/resolved-by-repeat.ts` says what is released.
 */
import type { Limits } from '../vitals/limits.js';
import type { EarlierReading, JudgingContext, Reading } from '../vitals/shapes.js';
import type { Part, Vital } from '../vitals/words.js';
import { areNear, isComparable, isIndependent, isSameArm, isSound } from './pairs.js';
import { BY_CUFF, BY_HAND, PARTS_COMPARED, pressureTolerance } from './pressure-pairs.js';
import { pulsesAgree, pulsesContradict } from './pulse-pairs.js';
import type { ReadingFacts } from './rule.js';
import { temperaturesAgree, temperaturesContradict } from './temperature-pairs.js';
import { distance } from './tolerance.js';

/** One reading among those that can speak to a disagreement. */
export interface Voice {
  readonly reading: Reading;
  /** Null: of the set that is judged. */
  readonly kept: EarlierReading | null;
}

/** A kind of disagreement: the rule that holds for it, and when two readings contradict or agree. */
export interface DisagreementKind {
  readonly rule:
    'blood-pressure-methods-disagree' | 'pulse-methods-disagree' | 'temperature-sites-disagree';
  readonly vital: Vital;
  /** The two ways of measuring that are held against each other, and any other. */
  readonly wayOf: (reading: Reading) => string | null;
  readonly contradict: (limits: Limits, a: Reading, b: Reading) => boolean;
  /** In every part named. */
  readonly agree: (limits: Limits, a: Reading, b: Reading, parts: readonly Part[]) => boolean;
}

function pressureWay({ method }: Reading): string | null {
  if (BY_HAND.some((each) => each === method)) return 'by hand';
  return BY_CUFF.some((each) => each === method) ? 'by cuff' : method;
}

function isPressureNear(
  limits: Limits,
  band: 'differ' | 'disagree',
  [a, b]: readonly [Reading, Reading],
  part: Part,
): boolean {
  const [one, other] = [a.values[part]?.number, b.values[part]?.number];
  if (one === undefined || other === undefined || part === 'value' || part === 'mean') return false;
  return distance(one, other) <= pressureTolerance(limits, band, part, one, other).at;
}

export const DISAGREEMENT_KINDS: readonly DisagreementKind[] = [
  {
    rule: 'blood-pressure-methods-disagree',
    vital: 'blood-pressure',
    wayOf: pressureWay,
    contradict: (limits, a, b) => {
      const ways = [pressureWay(a), pressureWay(b)];
      if (!ways.includes('by hand') || !ways.includes('by cuff') || !isSameArm(a, b)) return false;
      return sharedParts(a, b).some((part) => !isPressureNear(limits, 'disagree', [a, b], part));
    },
    agree: (limits, a, b, parts) =>
      isSameArm(a, b) && parts.every((part) => isPressureNear(limits, 'differ', [a, b], part)),
  },
  {
    rule: 'pulse-methods-disagree',
    vital: 'pulse-rate',
    wayOf: ({ method }) => method,
    contradict: (limits, a, b) => {
      const [byHand, byDevice] = a.method === 'palpation' ? [a, b] : [b, a];
      if (byHand.method !== 'palpation' || byDevice.method !== 'pulse-oximetry') return false;
      return pulsesContradict(limits, byHand, byDevice);
    },
    agree: pulsesAgree,
  },
  {
    rule: 'temperature-sites-disagree',
    vital: 'body-temperature',
    wayOf: ({ site }) => site,
    contradict: temperaturesContradict,
    agree: temperaturesAgree,
  },
];

const VALUE: readonly Part[] = ['value'];

/** The parts that both readings have and that are compared. */
export function sharedParts(a: Reading, b: Reading): readonly Part[] {
  if (a.values.value !== undefined && b.values.value !== undefined) return VALUE;
  return PARTS_COMPARED.filter(
    (part) => a.values[part] !== undefined && b.values[part] !== undefined,
  );
}

/** The readings of a sign, of the set and kept before, that tell anything about each other. */
export function voicesOf(
  vital: Vital,
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Voice[] {
  const own = standing
    .filter((facts) => facts.reading.vital === vital && isSound(facts))
    .map(({ reading }): Voice => ({ reading, kept: null }));
  const kept = context.earlier
    .filter((each) => each.vital === vital && isComparable(each))
    .map((each): Voice => ({ reading: each, kept: each }));
  return [...own, ...kept].filter(({ reading: { values } }) => Object.keys(values).length > 0);
}

/** What settled a disagreement: those that agree, and the one that stands apart. */
export interface Settlement {
  readonly agreeing: readonly Voice[];
  readonly outlier: Voice;
}

/**
 * Settles a disagreement of two, or does not (null). Near both, within the window, two readings that
 * agree and differ in method or in device are a pair. All pairs must agree among each other and with one
 * of the two only, or it stays open which is right; and the ways of both must be among them, so that the
 * outlier's own way of measuring speaks against it.
 */
export function settle(
  kind: DisagreementKind,
  limits: Limits,
  [one, other]: readonly [Voice, Voice],
  voices: readonly Voice[],
): Settlement | null {
  const parts = sharedParts(one.reading, other.reading);
  const windowMs = limits.ms('resolved-by-repeat.window');
  const near = voices.filter(({ reading }) =>
    [one, other].every((each) => areNear(reading, each.reading, windowMs)),
  );
  const agree = (a: Voice, b: Voice): boolean =>
    areNear(a.reading, b.reading, windowMs) && kind.agree(limits, a.reading, b.reading, parts);
  const agreeing = near.filter((a) =>
    near.some((b) => a !== b && isIndependent(a.reading, b.reading) && agree(a, b)),
  );
  const winner = [one, other].find((each) => agreeing.includes(each));
  if (winner === undefined || !agreeing.every((a) => agreeing.every((b) => a === b || agree(a, b))))
    return null;
  const outlier = winner === one ? other : one;
  if (agreeing.some((each) => each === outlier || agree(each, outlier))) return null;
  const ways = new Set(agreeing.map(({ reading }) => kind.wayOf(reading)));
  const spans = [one, other].every(({ reading }) => ways.has(kind.wayOf(reading)));
  return spans ? { agreeing, outlier } : null;
}
