import { CONFIRMATION } from '../../vitals/limits-sources.js';
import type { Limits } from '../../vitals/limits.js';
import type { Finding, JudgingContext } from '../../vitals/shapes.js';
import {
  DISAGREEMENT_KINDS,
  settle,
  voicesOf,
  type DisagreementKind,
  type Settlement,
  type Voice,
} from '../disagreements.js';
import { areNear, keptAt } from '../pairs.js';
import { NO_RESOLUTIONS, type ReadingFacts, type Resolution, type ResolvingRule } from '../rule.js';
import { amount, byMethod, listed, pressure } from '../wording.js';

const ADVICE =
  'Nothing more is needed for those that agree; look at how the one that stands apart was measured.';

/**
 * How many disagreements of this kind hold a reading: each finding speaks of one. None where a kept
 * reading is held for anything else too, which a repeat of this kind cannot settle.
 */
function countDoubts(
  { reading, kept }: Voice,
  kind: DisagreementKind,
  findings: readonly Finding[],
): number {
  if (kept === null) {
    return findings.filter(
      ({ rule, verdict, readings }) =>
        rule === kind.rule && verdict === 'held' && readings.includes(reading.index),
    ).length;
  }
  if (kept.hold !== 'value' || kept.doubts === undefined) return 0;
  return kept.doubts.every(({ rule, failed }) => rule === kind.rule && failed !== true)
    ? kept.doubts.length
    : 0;
}

/** Readings that are released for the same reason: those that agree, and those that stand apart. */
interface Group {
  readonly agreeing: readonly Voice[];
  readonly apart: readonly Voice[];
  readonly released: Voice[];
}

/** Released is who every disagreement about it is settled in favour of; named once with others of its kind. */
function resolveKind(
  kind: DisagreementKind,
  findings: readonly Finding[],
  context: JudgingContext,
  standing: readonly ReadingFacts[],
): readonly Resolution[] {
  const voices = voicesOf(kind.vital, context, standing);
  if (voices.length < 3) return NO_RESOLUTIONS;
  const groups = new Map<string, Group>();
  for (const voice of voices) {
    const doubts = countDoubts(voice, kind, findings);
    if (doubts === 0) continue;
    const settlements = settleAll(kind, context.limits, voice, voices);
    // Fewer than the doubts: one it was held against is out of sight, and nothing settled that.
    if (settlements === null || settlements.length < doubts) continue;
    const among = (pick: (each: Settlement) => readonly Voice[]): readonly Voice[] =>
      voices.filter((each) => settlements.some((one) => pick(one).includes(each)));
    const agreeing = among((one) => one.agreeing);
    if (agreeing.every(({ kept }) => kept !== null)) continue;
    const apart = among((one) => [one.outlier]);
    const name = [agreeing, apart].map((all) => all.map((each) => voices.indexOf(each))).join('/');
    const group = groups.get(name) ?? { agreeing, apart, released: [] };
    group.released.push(voice);
    groups.set(name, group);
  }
  return [...groups.values()].map(resolution);
}

/** Every disagreement about a reading, all settled in its favour; null: one of them is not. */
function settleAll(
  kind: DisagreementKind,
  limits: Limits,
  voice: Voice,
  voices: readonly Voice[],
): readonly Settlement[] | null {
  const windowMs = limits.ms(`${kind.rule}.window`);
  const settlements: Settlement[] = [];
  for (const other of voices) {
    if (other === voice || !areNear(voice.reading, other.reading, windowMs)) continue;
    if (!kind.contradict(limits, voice.reading, other.reading)) continue;
    const settlement = settle(kind, limits, [voice, other], voices);
    if (settlement === null || settlement.outlier === voice) return null;
    settlements.push(settlement);
  }
  return settlements;
}

function resolution({ agreeing, apart, released }: Group): Resolution {
  const own = agreeing.filter(({ kept }) => kept === null);
  const free = listed(released.map(told));
  const ends = `${free} ${released.length === 1 ? 'is' : 'are'} no longer held for a disagreement`;
  const outliers = `${listed(apart.map(told))} ${apart.length === 1 ? 'stands' : 'stand'} apart`;
  return {
    readings: own.map(({ reading }) => reading.index).sort((a, b) => a - b),
    earlier: agreeing.flatMap(({ kept }) => (kept === null ? [] : [kept.readingId])),
    message: `${listed(agreeing.map(told))} agree: ${ends}. ${outliers} and ${apart.length === 1 ? 'is left as it was' : 'are left as they were'}.`,
    ...([...agreeing, ...apart].every(({ kept }) => kept === null)
      ? {}
      : { discreetMessage: 'With this repeat a pair agrees, and a disagreement is resolved.' }),
    advice: ADVICE,
    figures: { released: released.length },
    lifted: released.filter(({ kept }) => kept === null).map(({ reading }) => reading.index),
    releases: released.flatMap(({ kept }) => (kept === null ? [] : [kept.readingId])),
  };
}

/** "118/76 mmHg by stethoscope at 11:57". */
function told({ reading, kept }: Voice): string {
  const value = reading.vital === 'blood-pressure' ? pressure(reading) : amount(reading, 'value');
  const way =
    reading.vital === 'body-temperature' ? (reading.site ?? '') : byMethod(reading.method);
  return `${value} ${way}${keptAt(reading, kept)}`;
}

/**
 * Two readings support each other only if they differ in method or in device. The outlier is never
 * rejected by it, only left as it was.
 */
export const resolvedByRepeat: ResolvingRule = {
  id: 'resolved-by-repeat',
  stage: 'resolve',
  verdict: 'noted',
  words: 'A repeated measurement settles which of two readings that disagreed stands.',
  source: CONFIRMATION,
  since: 1,
  lifts: DISAGREEMENT_KINDS.map(({ rule }) => rule),
  check: (findings, context, standing) =>
    DISAGREEMENT_KINDS.flatMap((kind) => resolveKind(kind, findings, context, standing)),
};
