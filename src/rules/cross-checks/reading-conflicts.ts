import { CONTROL_ID } from '../../vitals/limits-sources-devices.js';
import type { EarlierReading, JudgingContext, Reading } from '../../vitals/shapes.js';
import { PARTS, type Vital } from '../../vitals/words.js';
import { isSameDevice } from '../device-delays.js';
import { isComparable, isSound, keptAt } from '../pairs.js';
import { hasDoubt } from '../report-doubts.js';
import { NO_REMARKS, type AcrossRule, type ReadingFacts, type Remark } from '../rule.js';
import { amount, listed, pressure, sentence, signName } from '../wording.js';

interface Claimant {
  readonly reading: Reading;
  readonly kept: EarlierReading | null;
}

/** Timed by a device, to the second. */
function isTimed({ report, device }: Reading): boolean {
  return report !== undefined && device !== null && !hasDoubt({ report }, 'time-to-minute-only');
}

/** The same measurement by all that was told of it. Probes of one device are told apart within a message. */
function isSameKey(a: Claimant, b: Claimant): boolean {
  const [one, other] = [a.reading, b.reading];
  const oneMessage = a.kept === null && b.kept === null;
  return (
    one.vital === other.vital &&
    one.method === other.method &&
    one.site === other.site &&
    one.side === other.side &&
    Math.floor(one.takenAt.epochMs / 1000) === Math.floor(other.takenAt.epochMs / 1000) &&
    isSameDevice(one.device, other.device) &&
    (!oneMessage || one.report?.channel === other.report?.channel)
  );
}

function isOtherValue(a: Reading, b: Reading): boolean {
  return PARTS.some((part) => {
    const [one, other] = [a.values[part]?.number, b.values[part]?.number];
    return one !== undefined && other !== undefined && one !== other;
  });
}

function told({ reading, kept }: Claimant): string {
  const value = reading.vital === 'blood-pressure' ? pressure(reading) : amount(reading, 'value');
  return `${value}${keptAt(reading, kept)}`;
}

function remark(vital: Vital, own: readonly Claimant[], kept: readonly Claimant[]): Remark {
  const earlier = kept.flatMap((each) => (each.kept === null ? [] : [each.kept.readingId]));
  const name = sentence(signName(vital, 'value'));
  return {
    readings: own.map(({ reading }) => reading.index).sort((a, b) => a - b),
    ...(earlier.length > 0 && { earlier }),
    message: `${name}: the same device told ${listed([...own, ...kept].map(told))} for one and the same second.`,
    ...(earlier.length > 0 && {
      discreetMessage: `${name}: the same device told another value for the same second before.`,
    }),
    advice:
      'Compare them with the display of the device or with what it stored, and keep the right one.',
  };
}

/** What contradicts a reading, with it: of the set, and of what was kept before. */
function findRemark(
  reading: Reading,
  own: readonly Claimant[],
  kept: readonly Claimant[],
): Remark | null {
  const first = { reading, kept: null };
  const isRival = (each: Claimant): boolean => isSameKey(first, each);
  const ofKey = own.filter(isRival);
  // Each key is spoken of once, by the first of its readings.
  if (ofKey[0]?.reading !== reading) return null;
  const before = kept.filter(isRival);
  const all = [...ofKey, ...before];
  const inConflict = (one: Claimant): boolean =>
    all.some((other) => isOtherValue(one.reading, other.reading));
  const [ours, theirs] = [ofKey.filter(inConflict), before.filter(inConflict)];
  return ours.length === 0 ? null : remark(reading.vital, ours, theirs);
}

/**
 * What was kept before stays as it was. Values of one measurement that its own message told as such are
 * for `values-conflict`.
 */
export const readingConflicts: AcrossRule = {
  id: 'reading-conflicts',
  stage: 'across',
  verdict: 'held',
  hold: 'value',
  words: 'A device told different values of one sign for one and the same second.',
  source: CONTROL_ID,
  since: 1,
  check: ({ earlier }: JudgingContext, standing: readonly ReadingFacts[]) => {
    const own = standing
      .filter((facts) => isTimed(facts.reading) && isSound(facts))
      .map(({ reading }): Claimant => ({ reading, kept: null }));
    if (own.length === 0) return NO_REMARKS;
    const kept = earlier
      .filter((each) => isTimed(each) && isComparable(each))
      .map((each): Claimant => ({ reading: each, kept: each }));
    return own
      .map(({ reading }) => findRemark(reading, own, kept))
      .filter((found) => found !== null);
  },
};
