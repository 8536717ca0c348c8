/** Which of the pairs that were found count, and how far apart each of them is. */
import type { ComparedPair, FoundPairs, PairSide } from '../../../store/agreement-pairs.js';
import type { Identifier } from '../../../vitals/identifier.js';
import type { FiguresServices } from '../figures/services.js';
import type { AgreementSign } from './agreement-query.js';

/** One pair that counts. Differences are by device less by hand: above zero, the device reads high. */
export interface Difference {
  readonly patient: number;
  readonly atMs: number;
  readonly mean: number;
  readonly difference: number;
  /** One side is held, or was taken back. */
  readonly isDoubted: boolean;
  readonly device: Identifier | null;
  readonly ward: string | null;
  readonly personId: string | null;
  readonly person: Identifier | null;
}

/** Pairs that do not count, by the reason; each by one only. */
export interface SetAside {
  /** A side that the rules rejected: it is no measurement. */
  readonly impossible: number;
  /** A side whose unit, or whose message, is in doubt. */
  readonly doubtful: number;
  /** A side that a person rejected or withdrew; none where these count. */
  readonly takenBack: number;
}

export interface Comparison {
  /** Oldest first. */
  readonly differences: readonly Difference[];
  readonly setAside: SetAside;
  readonly onlySinceMs: number | null;
}

interface Counting {
  readonly sign: AgreementSign;
  readonly withTakenBack: boolean;
  readonly speaksOfOthers: FiguresServices['speaksOfOthers'];
}

function isTakenBack({ rejectedByPerson, status }: PairSide): boolean {
  return rejectedByPerson || status === 'entered-in-error';
}

function isHeld({ verdict }: PairSide): boolean {
  return verdict === 'held';
}

/** Why a pair does not count; null: it does. */
function reasonAgainst(sides: readonly PairSide[], counting: Counting): keyof SetAside | null {
  const { speaksOfOthers, withTakenBack } = counting;
  if (sides.some((side) => side.verdict === 'rejected' && !side.rejectedByPerson)) {
    return 'impossible';
  }
  const isSound = ({ hold, report }: PairSide): boolean =>
    hold !== 'unit' && speaksOfOthers(report === undefined ? {} : { report });
  if (!sides.every(isSound)) return 'doubtful';
  return !withTakenBack && sides.some(isTakenBack) ? 'takenBack' : null;
}

function numberOf(side: PairSide, sign: AgreementSign): number | null {
  return sign === 'pulse' ? side.rate : side[sign];
}

function differenceOf(pair: ComparedPair, sign: AgreementSign): Difference | null {
  const { byHand, byDevice, patient, device, ward, personId, person } = pair;
  const [manual, automatic] = [numberOf(byHand, sign), numberOf(byDevice, sign)];
  if (manual === null || automatic === null) return null;
  return {
    ...{ patient, device, ward, personId, person },
    atMs: byHand.takenAtMs,
    mean: (manual + automatic) / 2,
    difference: automatic - manual,
    isDoubted: [byHand, byDevice].some((side) => isHeld(side) || isTakenBack(side)),
  };
}

/** Held pairs count: what contradicts itself is what is looked for. A pair that lacks the sign is none. */
export function comparePairs({ pairs, onlySinceMs }: FoundPairs, counting: Counting): Comparison {
  const differences: Difference[] = [];
  const setAside = { impossible: 0, doubtful: 0, takenBack: 0 };
  for (const pair of pairs) {
    const difference = differenceOf(pair, counting.sign);
    if (difference === null) continue;
    const reason = reasonAgainst([pair.byHand, pair.byDevice], counting);
    if (reason === null) differences.push(difference);
    else setAside[reason] += 1;
  }
  return { differences, setAside, onlySinceMs };
}
