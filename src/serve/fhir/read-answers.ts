/** The pipeline's answer to the parts of a delivery, by the place of each reading. */
import type { PartOutcome } from '../../deliveries/deliveries.js';
import type { Verdict } from '../../vitals/words.js';

/** A reading as a sender of sets is told of it, as far as it matters here. */
export interface ReadingAnswer {
  readonly index: number;
  readonly reading: string;
  readonly version: number;
  readonly verdict: Verdict;
  /** `Observation/…`; absent: it is not published. */
  readonly observation?: string;
  /** Another submission had brought it. */
  readonly receivedBefore?: boolean;
}

export interface SetFinding {
  readonly rule: string;
  readonly verdict: Exclude<Verdict, 'accepted'>;
  readonly readings: readonly number[];
  readonly message: string;
  readonly advice: string;
}

interface SetAnswer {
  readonly readings: readonly ReadingAnswer[];
  readonly findings: readonly SetFinding[];
}

export interface PlacedAnswer {
  readonly reading: ReadingAnswer;
  /** About this reading, or about each of its set. */
  readonly findings: readonly SetFinding[];
  readonly repeat: boolean;
}

export function answersByPlace(parts: readonly PartOutcome[]): ReadonlyMap<number, PlacedAnswer> {
  const found = new Map<number, PlacedAnswer>();
  for (const { answer, repeat } of parts) {
    const { readings, findings } = JSON.parse(answer.toString('utf8')) as SetAnswer;
    for (const reading of readings) {
      const own = findings.filter(
        (finding) => finding.readings.length === 0 || finding.readings.includes(reading.index),
      );
      found.set(reading.index, { reading, findings: own, repeat });
    }
  }
  return found;
}
