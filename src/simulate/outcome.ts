/** What became of a message with or without a fault, and whether that is what a gateway should make of it. */
import { VERDICTS } from '../vitals/words.js';
import type { Verdict } from '../vitals/words.js';
import type { Fault } from './faults.js';
import type { Answer } from './speak/speaker.js';

/**
 * The worst verdict of the readings; `no reading`: none was made of it. Where nobody told the verdicts:
 * `published` when all readings are out, `not published` when some are not, `acknowledged` when nothing is known.
 */
export type Made =
  Verdict | 'no reading' | 'published' | 'not published' | 'acknowledged' | 'refused';

/** A message with all that is known of its fate. */
export interface Fate {
  readonly fault: Fault | null;
  readonly answer: Answer;
  /** To the same message sent a second time; null: it was sent once, or the second got no answer. */
  readonly second: Answer | null;
  /** As looked up afterwards, of each reading that is there; null: nobody has looked. */
  readonly found: readonly Verdict[] | null;
  /** How many readings it has. */
  readonly readings: number;
  /** By the clock of a device that is ahead. */
  readonly isAhead: boolean;
  /** The device itself doubts the signal, and gives a value all the same. */
  readonly isDoubted: boolean;
}

export function madeOf({ answer, found }: Pick<Fate, 'answer' | 'found'>): Made {
  if (!answer.isTaken) return 'refused';
  const verdicts = answer.verdicts ?? found;
  if (verdicts !== null)
    return VERDICTS.findLast((word) => verdicts.includes(word)) ?? 'no reading';
  if (answer.published === undefined) return 'acknowledged';
  return answer.published.kept === 0 ? 'published' : 'not published';
}

/** What is wrong with the fate of a message; null: it is what it should be, as far as anybody can tell. */
export function findFlaw(fate: Fate): string | null {
  const { answer, second, fault } = fate;
  if (!answer.isTaken) return `was answered ${answer.code}: ${answer.words}`;
  const flaw = second === null ? null : flawOfSecond(fate, second);
  if (flaw !== null) return flaw;
  const made = madeOf(fate);
  const allowed = ALLOWED[fault ?? 'none'](fate);
  if (made === 'acknowledged') return null;
  const words = made === 'published' || made === 'not published' ? allowed.out : allowed.verdicts;
  return words.includes(made) ? null : `was ${made}; it should be ${words.join(' or ')}`;
}

/** A second reading would count twice. */
function flawOfSecond({ answer, found, readings }: Fate, second: Answer): string | null {
  if (second.code !== answer.code) return `was answered ${answer.code}, and again ${second.code}`;
  if (answer.verdicts !== null && !second.isRepeat) return 'was not known again when it came twice';
  if (found !== null && found.length > readings) {
    return `has ${readings} readings, and ${found.length} are kept of it`;
  }
  return null;
}

/** What may become of a message: by its worst verdict, and by whether its readings are out. */
interface Allowed {
  readonly verdicts: readonly Made[];
  readonly out: readonly Made[];
}

const GOOD: Allowed = { verdicts: ['accepted', 'noted'], out: ['published'] };
const HELD: Allowed = { verdicts: ['held'], out: ['not published'] };
const DOUBTED: Allowed = { verdicts: ['held', 'rejected'], out: ['not published'] };
const EITHER: readonly Made[] = ['published', 'not published'];
/** A critical value is published at once although it is held. */
const AHEAD: Allowed = { verdicts: ['held'], out: EITHER };
/** It must not pass in silence. */
const DOUBTED_BY_DEVICE: Allowed = { verdicts: ['noted', 'held', 'rejected'], out: EITHER };
/** No reading, one that says that there is none, or a zero that is refused. */
const LOST: Allowed = {
  verdicts: ['accepted', 'noted', 'held', 'rejected', 'no reading'],
  out: EITHER,
};

const ALLOWED: Readonly<Record<Fault | 'none', (fate: Fate) => Allowed>> = {
  none: () => GOOD,
  'loose-probe': ({ isDoubted }) => (isDoubted ? DOUBTED_BY_DEVICE : LOST),
  'swapped-patient': () => HELD,
  'wrong-unit': () => DOUBTED,
  'clock-hour-off': ({ isAhead }) => (isAhead ? AHEAD : GOOD),
  duplicate: () => GOOD,
  'cut-frame': () => GOOD,
};
