/** Sets whose numbers are those of the patient's set before: sent again, or copied instead of measured. */

export interface WrittenSet {
  readonly patient: string;
  readonly takenAtMs: number;
  /** The numbers by sign, as text that is equal if they are: {"pulse-rate": "72"}. */
  readonly numbers: Readonly<Record<string, string>>;
}

export interface RepeatedSets {
  /** Sets that could be held against the one before. */
  readonly compared: number;
  /** Of these, those with every number as before. */
  readonly repeated: number;
  /** How many chance alone would repeat, if sets had nothing to do with each other. */
  readonly expected: number;
  /** Sets that repeat one that was itself a repeat. */
  readonly twiceRunning: number;
  /** Times that three signs or more stood unchanged through four sets. */
  readonly standstills: number;
  readonly finding: 'too-few' | 'as-expected' | 'repeated';
}

const HALF_HOUR_MS = 30 * 60_000;

/** Signs that both sets must have for a comparison to say something; agreed on one alone is common. */
const SIGNS_AT_LEAST = 3;
const STANDSTILL_SETS = 4;

/** Fewer compared sets than these are shown without a judgement (common practice, no source). */
export const SETS_AT_LEAST = 20;

/**
 * The chance that two sets taken at random agree in these signs: of each sign the sum of the squared shares
 * of its numbers, multiplied over the signs.
 */
export function chanceOfRepeat(sets: readonly WrittenSet[], signs: readonly string[]): number {
  return signs.reduce((chance, sign) => {
    const told = sets.flatMap(({ numbers }) => numbers[sign] ?? []);
    const counts = new Map<string, number>();
    for (const number of told) counts.set(number, (counts.get(number) ?? 0) + 1);
    const shares = [...counts.values()].map((count) => (count / told.length) ** 2);
    return chance * shares.reduce((total, share) => total + share, 0);
  }, 1);
}

function signsOf(set: WrittenSet): string[] {
  return Object.keys(set.numbers).sort();
}

/** Signs with the same number as before; null: the two cannot be held against each other. */
function unchangedSigns(set: WrittenSet, before: WrittenSet | undefined): readonly string[] | null {
  if (before === undefined || set.takenAtMs - before.takenAtMs <= HALF_HOUR_MS) return null;
  const both = signsOf(set).filter((sign) => before.numbers[sign] !== undefined);
  if (both.length < SIGNS_AT_LEAST) return null;
  return both.filter((sign) => set.numbers[sign] === before.numbers[sign]);
}

interface Following {
  readonly before: WrittenSet;
  /** How many sets in a row, this one counted, were whole repeats. */
  readonly repeats: number;
  /** How many sets in a row each sign has had its number. */
  readonly standing: ReadonlyMap<string, number>;
}

/** What became of one set that could be held against the one before. */
export interface FollowingSet<S extends WrittenSet> {
  readonly set: S;
  readonly isRepeat: boolean;
  /** The chance of that, if sets had nothing to do with each other. */
  readonly chance: number;
  /** The set before was a repeat too. */
  readonly isTwiceRunning: boolean;
  /** Three signs or more have stood unchanged through four sets. */
  readonly isStandstill: boolean;
}

function follow(
  set: WrittenSet,
  former: Following | undefined,
): Following & { isCompared: boolean } {
  const signs = signsOf(set);
  const unchanged = unchangedSigns(set, former?.before);
  const isRepeat =
    former !== undefined &&
    unchanged?.length === signs.length &&
    signs.length === signsOf(former.before).length;
  const standing = signs.map((sign): [string, number] => [
    sign,
    unchanged?.includes(sign) ? (former?.standing.get(sign) ?? 1) + 1 : 1,
  ]);
  return {
    before: set,
    repeats: isRepeat ? former.repeats + 1 : 0,
    standing: new Map(standing),
    isCompared: unchanged !== null,
  };
}

/** Each set that follows another of the same patient by more than half an hour, in order of time. */
export function followSets<S extends WrittenSet>(sets: readonly S[]): FollowingSet<S>[] {
  const inOrder = [...sets].sort((a, b) => a.takenAtMs - b.takenAtMs);
  const last = new Map<string, Following>();
  const chances = new Map<string, number>();
  return inOrder.flatMap((set) => {
    const following = follow(set, last.get(set.patient));
    last.set(set.patient, following);
    if (!following.isCompared) return [];
    const signs = signsOf(set);
    const chance = chances.get(signs.join(' ')) ?? chanceOfRepeat(inOrder, signs);
    chances.set(signs.join(' '), chance);
    const long = [...following.standing.values()].filter((count) => count >= STANDSTILL_SETS);
    return [
      {
        set,
        chance,
        isRepeat: following.repeats > 0,
        isTwiceRunning: following.repeats > 1,
        isStandstill: long.length >= SIGNS_AT_LEAST,
      },
    ];
  });
}

/**
 * Signal, as proposed (no prevalence of copied vital signs was found): a whole repeat twice running, or three
 * signs unchanged through four sets.
 */
export function countRepeats(sets: readonly FollowingSet<WrittenSet>[]): RepeatedSets {
  const count = (is: (set: FollowingSet<WrittenSet>) => boolean): number => sets.filter(is).length;
  const twiceRunning = count(({ isTwiceRunning }) => isTwiceRunning);
  const standstills = count(({ isStandstill }) => isStandstill);
  const signal = twiceRunning > 0 || standstills > 0;
  const finding = signal ? 'repeated' : 'as-expected';
  return {
    compared: sets.length,
    repeated: count(({ isRepeat }) => isRepeat),
    expected: sets.reduce((total, { chance }) => total + chance, 0),
    ...{ twiceRunning, standstills },
    finding: !signal && sets.length < SETS_AT_LEAST ? 'too-few' : finding,
  };
}
