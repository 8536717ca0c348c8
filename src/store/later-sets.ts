/** What the later sets of a batch see of those before them: the readings as they will stand in the table. */
import type { EarlierReading, JudgedSet, LinkedReading, PastReading } from '../vitals/shapes.js';
import { addSent } from './linked-readings.js';
import type { SentReadings } from './linked-readings.js';
import { byTime } from './patient-history.js';
import { holdingFindings } from './reading-records.js';
import { readingId, receivedAtMsOf } from './reading-rows.js';

/** What is known of the patients of a batch, by patient key. */
export interface KnownReadings {
  readonly earlier: Map<number, EarlierReading[]>;
  readonly history: Map<number, PastReading[]>;
  readonly sent: Map<number, SentReadings>;
}

/** Adds the readings of a set that was just judged, and what it resolved. */
export function showToLaterSets(
  { earlier, history, sent }: KnownReadings,
  patientKey: number,
  submissionId: string,
  judged: JudgedSet,
): void {
  const before = withoutResolved(earlier.get(patientKey) ?? [], judged);
  const kept = keptReadings(submissionId, judged);
  earlier.set(patientKey, [...before, ...kept]);
  const past = kept.filter(isPast).map(toPast);
  history.set(patientKey, [...(history.get(patientKey) ?? []), ...past].sort(byTime));
  const known: SentReadings = sent.get(patientKey) ?? new Map<string, LinkedReading[]>();
  addSent(known, submissionId, judged);
  sent.set(patientKey, known);
}

/** What counts for change: see the query of `patient-history.ts`. */
function isPast({ hold, absent }: EarlierReading): boolean {
  return hold === null && absent === null;
}

function toPast(kept: EarlierReading): PastReading {
  return { ...kept, receivedAtMs: receivedAtMsOf(kept.readingId) };
}

/** The readings of a set as later sets of the batch must see them: as they will stand in the table. */
function keptReadings(submissionId: string, judged: JudgedSet): EarlierReading[] {
  return judged.readings
    .filter((one) => one.verdict !== 'rejected' && one.hold !== 'identity')
    .map(({ reading, verdict, hold, status, findings }) => ({
      ...reading,
      readingId: readingId(submissionId, reading.index),
      verdict,
      hold,
      status,
      ...(hold === 'value' ? { doubts: holdingFindings(findings) } : {}),
    }));
}

/** Earlier readings as a set leaves them that a later one of the batch is held against: its repeats released some. */
function withoutResolved(
  earlier: readonly EarlierReading[],
  { resolved }: JudgedSet,
): readonly EarlierReading[] {
  if (resolved.length === 0) return earlier;
  return earlier.map((kept) => {
    if (!resolved.some(({ readingId: id }) => id === kept.readingId)) return kept;
    // Whether it is out as final or, from an unattended source, not, makes no difference to the rules.
    return { ...kept, verdict: 'noted', hold: null, status: 'preliminary', doubts: [] };
  });
}
