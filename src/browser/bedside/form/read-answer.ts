/** What the answer to a set says of each entry of the form. */
import type { Verdict } from '../../../vitals/words.js';
import { VERDICTS } from '../../../vitals/words.js';
import type { AnsweredFinding, AnsweredReading, CheckedAnswer, SetAnswer } from '../door.js';

export interface EntryAnswer {
  readonly verdict: Verdict;
  readonly readings: readonly AnsweredReading[];
  /** Gravest first. */
  readonly findings: readonly AnsweredFinding[];
  readonly critical: boolean;
  /** Entries that the findings hold against each other, this one first: what to measure again. */
  readonly together: readonly number[];
  /** Measuring again and finding the same lifts a hold. */
  readonly canConfirm: boolean;
}

/** Words of the form that are not told well enough to be judged, by entry; the others by themselves. */
export type Checked =
  | {
      readonly answers: ReadonlyMap<number, EntryAnswer>;
      readonly ofSet: readonly AnsweredFinding[];
    }
  | { readonly faults: readonly string[] };

/** Holds that a person's second measurement lifts (`value-confirmed`). */
const CONFIRMABLE = ['value-doubtful', 'pulse-pressure-narrow', 'respiratory-rate-above-pulse'];

function worst(verdicts: readonly Verdict[]): Verdict {
  return VERDICTS[Math.max(0, ...verdicts.map((verdict) => VERDICTS.indexOf(verdict)))] ?? 'held';
}

export function readChecked(checked: CheckedAnswer, entryIds: readonly number[]): Checked {
  if ('faults' in checked) return { faults: checked.faults.map(({ message }) => message) };
  return readAnswer(checked.answer, entryIds);
}

/** @param entryIds by index of the reading */
export function readAnswer(
  { readings, findings }: SetAnswer,
  entryIds: readonly number[],
): Extract<Checked, { answers: unknown }> {
  const gravestFirst = [...findings].sort(
    (a, b) => VERDICTS.indexOf(b.verdict) - VERDICTS.indexOf(a.verdict),
  );
  const answers = new Map<number, EntryAnswer>();
  for (const id of new Set(entryIds)) {
    const own = readings.filter(({ index }) => entryIds[index] === id);
    const about = gravestFirst.filter((finding) =>
      finding.readings.some((index) => entryIds[index] === id),
    );
    answers.set(id, {
      verdict: worst(own.map(({ verdict }) => verdict)),
      readings: own,
      findings: about,
      critical: isCritical(own, about),
      together: together(id, about, entryIds),
      canConfirm: about.some(
        ({ rule, verdict }) => verdict === 'held' && CONFIRMABLE.includes(rule),
      ),
    });
  }
  return { answers, ofSet: gravestFirst.filter(({ readings: named }) => named.length === 0) };
}

function isCritical(
  readings: readonly AnsweredReading[],
  findings: readonly AnsweredFinding[],
): boolean {
  const codes = readings.flatMap(({ interpretation }) =>
    typeof interpretation === 'string' ? [interpretation] : Object.values(interpretation ?? {}),
  );
  return (
    codes.some((code) => code === 'LL' || code === 'HH') ||
    findings.some(({ rule }) => rule === 'value-critical')
  );
}

function together(
  id: number,
  findings: readonly AnsweredFinding[],
  entryIds: readonly number[],
): number[] {
  const held = findings.filter(({ verdict }) => verdict === 'held');
  const named = held.flatMap(({ readings }) => readings.map((index) => entryIds[index] ?? id));
  return held.length === 0 ? [] : [...new Set([id, ...named])];
}
