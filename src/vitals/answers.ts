/** The answer that a sender reads: the same form for a set just judged, checked only, or looked up later. */
import { CATALOGUE } from './catalogue.js';
import type {
  Entered,
  Finding,
  JudgedSet,
  LinkedReading,
  NormalisedSet,
  ReadingVersion,
} from './shapes.js';
import { PARTS, VERDICTS } from './words.js';
import type { Interpretation, Part, Verdict, Vital } from './words.js';

/** How an edition is written where people read it. */
export function editionName(edition: number): string {
  return String(edition);
}

interface AnsweredReading {
  readonly index: number;
  readonly readingId: string | null;
  readonly version: number | null;
  readonly vital: Vital;
  readonly verdict: Verdict;
  readonly published: boolean;
  readonly numbers: Readonly<Partial<Record<Part, number>>>;
  readonly code: string | null;
  readonly absent: string | null;
  readonly entered: Entered | null;
  readonly interpretation: Readonly<Partial<Record<Part, Interpretation>>>;
}

function readingAnswer(one: AnsweredReading): Record<string, unknown> {
  const answer: Record<string, unknown> = { index: one.index };
  if (one.readingId !== null) answer.reading = one.readingId;
  if (one.version !== null) answer.version = one.version;
  answer.vital = one.vital;
  answer.verdict = one.verdict;
  if (one.published) answer.observation = `Observation/${one.readingId}`;
  let measured = false;
  for (const part of PARTS) {
    const number = one.numbers[part];
    if (number === undefined) continue;
    answer[part] = number;
    measured = true;
  }
  if (measured) answer.unit = CATALOGUE[one.vital].unit;
  if (one.code !== null) answer.code = one.code;
  if (one.absent !== null) answer.absent = one.absent;
  if (one.entered !== null) answer.entered = enteredNumbers(one.entered);
  const interpretation = interpretationAnswer(one.interpretation);
  if (interpretation !== undefined) answer.interpretation = interpretation;
  return answer;
}

/** Entered values are kept as text for their zeros; the sender reads numbers, as the rest of the answer has. */
function enteredNumbers(entered: Entered): Record<string, unknown> {
  return Object.fromEntries(
    Object.entries(entered).map(([name, value]) => [name, name === 'unit' ? value : Number(value)]),
  );
}

function interpretationAnswer(
  codes: Readonly<Partial<Record<Part, Interpretation>>>,
): Interpretation | Partial<Record<Part, Interpretation>> | undefined {
  if (codes.value !== undefined) return codes.value;
  for (const _ in codes) return codes;
  return undefined;
}

function findingAnswer(finding: Finding, discreet: boolean): Record<string, unknown> {
  const { rule, verdict, readings, message, discreetMessage, advice, figures, source } = finding;
  const hidden = discreet && discreetMessage !== undefined;
  return {
    rule,
    verdict,
    readings,
    message: hidden ? discreetMessage : message,
    advice,
    ...(figures === undefined || hidden ? {} : { figures }),
    source,
  };
}

const NONE_LINKED: readonly LinkedReading[] = [];

function worstOf(verdicts: readonly Verdict[]): Verdict | undefined {
  return VERDICTS[Math.max(...verdicts.map((verdict) => VERDICTS.indexOf(verdict)))];
}

function inOrder(readings: Record<string, unknown>[]): Record<string, unknown>[] {
  return readings.sort((a, b) => Number(a.index) - Number(b.index));
}

/** The answer to a set that was just judged. `submissionId` null: a check, nothing was kept. */
export function judgedAnswer(
  set: NormalisedSet,
  submissionId: string | null,
  judged: JudgedSet,
  options: {
    readonly idOf: (index: number) => string | null;
    readonly discreet: boolean;
    /** Readings that were kept already. */
    readonly linked?: readonly LinkedReading[];
  },
): Record<string, unknown> {
  const { linked = NONE_LINKED } = options;
  const own = judged.readings.map(({ reading, verdict, status, interpretation }) =>
    readingAnswer({
      index: reading.index,
      readingId: options.idOf(reading.index),
      version: submissionId === null ? null : 1,
      vital: reading.vital,
      verdict,
      published: submissionId !== null && status !== null,
      numbers: {
        ...(reading.values.value && { value: reading.values.value.number }),
        ...(reading.values.systolic && { systolic: reading.values.systolic.number }),
        ...(reading.values.diastolic && { diastolic: reading.values.diastolic.number }),
        ...(reading.values.mean && { mean: reading.values.mean.number }),
      },
      code: reading.code,
      absent: reading.absent,
      entered: reading.entered,
      interpretation,
    }),
  );
  return {
    setId: set.setId,
    ...(submissionId === null ? {} : { submission: submissionId }),
    verdict: worstOf([judged.verdict, ...linked.map((kept) => kept.verdict)]),
    readings:
      linked.length === 0
        ? own
        : inOrder([...own, ...linked.map((kept) => keptAnswer(kept, true))]),
    findings: [...judged.findings, ...linked.flatMap((kept) => kept.findings)].map((finding) =>
      findingAnswer(finding, options.discreet),
    ),
    edition: editionName(judged.edition),
  };
}

/** One reading of a set, as it stands in this version. */
export function versionAnswer(version: ReadingVersion): Record<string, unknown> {
  return keptAnswer(version, false);
}

/** @param receivedBefore another submission brought the reading first */
function keptAnswer(version: LinkedReading, receivedBefore: boolean): Record<string, unknown> {
  const answer = readingAnswer({
    ...version,
    published: version.status !== null,
    numbers: Object.fromEntries(
      Object.entries(version.values).map(([part, text]) => [part, Number(text)]),
    ),
  });
  return receivedBefore ? { ...answer, receivedBefore } : answer;
}

/** The answer for a set as it stands now. */
export function storedAnswer(
  setId: string,
  submissionId: string,
  readings: readonly ReadingVersion[],
): Record<string, unknown> {
  const findings = new Map<string, Record<string, unknown>>();
  for (const finding of readings.flatMap((reading) => reading.findings)) {
    const answer = findingAnswer(finding, false);
    findings.set(JSON.stringify(answer), answer);
  }
  return {
    setId,
    submission: submissionId,
    verdict: worstOf(readings.map((reading) => reading.verdict)),
    readings: readings.map((reading) => keptAnswer(reading, reading.submissionId !== submissionId)),
    findings: [...findings.values()],
    edition: editionName(Math.max(...readings.map((reading) => reading.edition))),
  };
}
