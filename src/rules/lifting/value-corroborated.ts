import { CONFIRMATION } from '../../vitals/limits-sources.js';
import type { Limits } from '../../vitals/limits.js';
import type { Reading } from '../../vitals/shapes.js';
import type { Part, Vital } from '../../vitals/words.js';
import { findBreaches, type Breach } from '../breaches.js';
import { areNear, isComparable, isIndependent, isSound } from '../pairs.js';
import type { LiftingRule } from '../rule.js';
import { distance } from '../tolerance.js';
import { byMethod } from '../wording.js';

/** Mean pressure, saturation, size and oxygen given have no tolerance: nothing supports them. */
function supportTolerance(limits: Limits, vital: Vital, part: Part): number | null {
  if (vital === 'blood-pressure') {
    return part === 'mean' ? null : limits.at('value-corroborated.blood-pressure');
  }
  return vital === 'pulse-rate' || vital === 'respiratory-rate' || vital === 'body-temperature'
    ? limits.at(`value-corroborated.${vital}`)
    : null;
}

/** Every doubtful number must be supported; a sign without a tolerance cannot be. */
function supports(
  limits: Limits,
  other: Reading,
  doubted: Reading,
  breaches: readonly Breach[],
): boolean {
  return (
    other.vital === doubted.vital &&
    areNear(other, doubted, limits.ms('value-corroborated.window')) &&
    isIndependent(other, doubted) &&
    breaches.every(({ part, value }) => {
      const within = supportTolerance(limits, doubted.vital, part);
      const second = other.values[part]?.number;
      return within !== null && second !== undefined && distance(value, second) <= within;
    })
  );
}

export const valueCorroborated: LiftingRule = {
  id: 'value-corroborated',
  stage: 'lift',
  verdict: 'noted',
  words: 'Another method or another device found about the same improbable value.',
  source: CONFIRMATION,
  since: 1,
  lifts: ['value-doubtful'],
  check: (held, context, standing) => {
    const facts = standing.find(({ reading }) => held.readings.includes(reading.index));
    if (facts === undefined) return null;
    const breaches = findBreaches(facts, 'hold', context.limits);
    if (breaches.length === 0) return null;
    const own = standing.find(
      (other) =>
        other !== facts &&
        isSound(other) &&
        supports(context.limits, other.reading, facts.reading, breaches),
    );
    if (own !== undefined) return { remark: remark(own.reading) };
    const kept = context.earlier.find(
      (each) => isComparable(each) && supports(context.limits, each, facts.reading, breaches),
    );
    return kept === undefined ? null : { remark: remark(kept), earlier: [kept.readingId] };
  },
};

function remark({ method }: Reading): string {
  return `A second measurement ${byMethod(method)} agrees with it.`;
}
