/** The gateway's answer to a set as lines for a person. */
import type { Entered } from '../vitals/shapes.js';
import type { Interpretation, Part, Verdict, Vital } from '../vitals/words.js';

/** As `POST /sets` answers; the members that are shown. */
export interface SetAnswer {
  readonly verdict: Verdict;
  readonly readings: readonly AnsweredReading[];
  readonly findings: readonly AnsweredFinding[];
}

interface AnsweredReading extends Readonly<Partial<Record<Part, number>>> {
  readonly index: number;
  readonly vital: Vital;
  readonly verdict: Verdict;
  readonly unit?: string;
  readonly entered?: Entered;
  readonly interpretation?: Interpretation | Readonly<Partial<Record<Part, Interpretation>>>;
}

interface AnsweredFinding {
  readonly rule: string;
  readonly verdict: Verdict;
  readonly readings: readonly number[];
  readonly message: string;
  readonly advice: string;
  readonly source: string;
}

/** "118/76 mm[Hg]", "38.28 Cel". */
export function valueText({ value, systolic, diastolic, unit }: AnsweredReading): string {
  const number = value ?? `${systolic ?? '–'}/${diastolic ?? '–'}`;
  return `${number} ${unit ?? ''}`;
}

/** "N", or "H/N" for a pressure. */
function codesText({ interpretation }: AnsweredReading): string {
  if (interpretation === undefined) return '';
  return typeof interpretation === 'string'
    ? interpretation
    : `${interpretation.systolic ?? '–'}/${interpretation.diastolic ?? '–'}`;
}

function enteredText({ entered }: AnsweredReading): string {
  if (entered === undefined) return '';
  if ('count' in entered) return `counted ${entered.count} in ${entered.seconds} s`;
  return 'value' in entered ? `entered as ${entered.value} ${entered.unit}` : '';
}

function readingLine(reading: AnsweredReading): string {
  const { index, vital, verdict } = reading;
  const columns = [String(index), vital.padEnd(17), verdict.padEnd(8)];
  const rest = [valueText(reading).padEnd(13), codesText(reading).padEnd(4), enteredText(reading)];
  return `  ${[...columns, ...rest].join('  ').trimEnd()}`;
}

function findingLines({ rule, verdict, readings, ...words }: AnsweredFinding): string[] {
  const about =
    readings.length === 0
      ? 'each reading'
      : `${readings.length === 1 ? 'reading' : 'readings'} ${readings.join(' and ')}`;
  return [
    `  ${rule} (${verdict}, ${about})`,
    `    ${words.message}`,
    `    What to do: ${words.advice}`,
    `    Grounds: ${words.source}`,
  ];
}

export function answerLines({ verdict, readings, findings }: SetAnswer): string[] {
  return [
    `The set is ${verdict}: that is the worst verdict of its readings.`,
    ...readings.map(readingLine),
    '',
    'What the rules said',
    ...findings.flatMap(findingLines),
  ];
}
