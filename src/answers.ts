/** The answer that a sender reads: the same form for a set just judged, checked only, or looked up later. */
import { CATALOGUE } from './vitals/catalogue.js';
import type {
  Entered,
  Finding,
  JudgedSet,
  NormalisedSet,
  ReadingVersion,
} from './vitals/shapes.js';
import { PARTS, VERDICTS } from './vitals/words.js';
import type { Interpretation, Part, Verdict, Vital } from './vitals/words.js';

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

/** The answer to a set that was just judged. `submissionId` null: a check, nothing was kept. */
export function judgedAnswer(
  set: NormalisedSet,
  submissionId: string | null,
  judged: JudgedSet,
  options: { readonly idOf: (index: number) => string | null; readonly discreet: boolean },
): Record<string, unknown> {
  return {
    setId: set.setId,
    ...(submissionId === null ? {} : { submission: submissionId }),
    verdict: judged.verdict,
    readings: judged.readings.map(({ reading, verdict, status, interpretation }) =>
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
    ),
    findings: judged.findings.map((finding) => findingAnswer(finding, options.discreet)),
    edition: editionName(judged.edition),
  };
}

/** One reading of a set, as it stands in this version. */
export function versionAnswer(version: ReadingVersion): Record<string, unknown> {
  return readingAnswer({
    ...version,
    published: version.status !== null,
    numbers: Object.fromEntries(
      Object.entries(version.values).map(([part, text]) => [part, Number(text)]),
    ),
  });
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
  const worst = Math.max(...readings.map((reading) => VERDICTS.indexOf(reading.verdict)));
  return {
    setId,
    submission: submissionId,
    verdict: VERDICTS[worst],
    readings: readings.map(versionAnswer),
    findings: [...findings.values()],
    edition: editionName(Math.max(...readings.map((reading) => reading.edition))),
  };
}
