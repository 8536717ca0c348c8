import { distance, supportTolerance } from '../../vitals/limits-agreement.js';
import { CONFIRMATION } from '../../vitals/limits-sources.js';
import type { Identifier, Reading } from '../../vitals/shapes.js';
import { findBreaches, type Breach } from '../breaches.js';
import { areNear, isComparable } from '../pairs.js';
import type { LiftingRule } from '../rule.js';
import { byMethod } from '../wording.js';

function isOtherDevice(a: Identifier | null, b: Identifier | null): boolean {
  return a !== null && b !== null && (a.system !== b.system || a.value !== b.value);
}

/** Two readings support each other only if they differ in method or in device. */
function isIndependent(a: Reading, b: Reading): boolean {
  const otherMethod = a.method !== null && b.method !== null && a.method !== b.method;
  return otherMethod || isOtherDevice(a.device, b.device);
}

/** Every doubtful number must be supported; a sign without a tolerance cannot be. */
function supports(other: Reading, doubted: Reading, breaches: readonly Breach[]): boolean {
  return (
    other.vital === doubted.vital &&
    areNear(other, doubted) &&
    isIndependent(other, doubted) &&
    breaches.every(({ part, value }) => {
      const tolerance = supportTolerance(doubted.vital, part);
      const second = other.values[part]?.number;
      return tolerance !== null && second !== undefined && distance(value, second) <= tolerance.at;
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
    const breaches = findBreaches(facts, 'hold');
    if (breaches.length === 0) return null;
    const own = standing.find(
      ({ reading, slip }) =>
        reading !== facts.reading && slip === null && supports(reading, facts.reading, breaches),
    );
    if (own !== undefined) return { remark: remark(own.reading) };
    const kept = context.earlier.find(
      (each) => isComparable(each) && supports(each, facts.reading, breaches),
    );
    return kept === undefined ? null : { remark: remark(kept), earlier: [kept.readingId] };
  },
};

function remark({ method }: Reading): string {
  return `A second measurement ${byMethod(method)} agrees with it.`;
}
