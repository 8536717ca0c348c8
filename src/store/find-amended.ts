/** Which kept reading a later message of the same source speaks about. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { HoldKind, Method, ObservationStatus, Verdict, Vital } from '../vitals/words.js';
import { timeText } from './sql-values.js';

/** What the message tells of it; null: it does not say. */
export interface AmendedQuestion {
  readonly sourceKey: number;
  readonly patient: Identifier;
  readonly vital: Vital;
  readonly method: Method | null;
  readonly device: Identifier | null;
  /** To the second, in ms since the epoch. */
  readonly takenAtMs: number;
}

export interface AmendedReading {
  readonly readingId: string;
  readonly version: number;
  readonly verdict: Verdict;
  readonly hold: HoldKind | null;
  readonly status: ObservationStatus | null;
}

/** Null: there is none, or more than one, and nobody may guess which. */
export async function findAmended(
  pool: Pool,
  question: AmendedQuestion,
): Promise<AmendedReading | null> {
  const secondMs = Math.floor(question.takenAtMs / 1000) * 1000;
  const { rows } = await pool.query<{
    reading_id: string;
    version: number;
    verdict: Verdict;
    hold: HoldKind | null;
    status: ObservationStatus | null;
  }>({
    name: 'find-amended',
    text: `select r.reading_id, r.version, r.verdict, r.hold, r.status
             from patient_identifiers i
             join readings r on r.patient_key = i.patient_key
                            and r.effective_at >= $4 and r.effective_at < $5
             left join devices d on d.device_key = r.device_key
            where i.system = $1 and i.value = $2 and r.source_key = $3 and r.vital = $6::vital
              and r.superseded is null and r.status is distinct from 'entered-in-error'
              and ($7::method is null or r.method = $7::method)
              and ($8::text is null or (d.system = $8 and d.value = $9))
            limit 2`,
    values: [
      question.patient.system,
      question.patient.value,
      question.sourceKey,
      timeText(secondMs),
      timeText(secondMs + 1000),
      question.vital,
      question.method,
      question.device?.system ?? null,
      question.device?.value ?? null,
    ],
  });
  const [row, another] = rows;
  if (row === undefined || another !== undefined) return null;
  const { reading_id: readingId, version, verdict, hold, status } = row;
  return { readingId, version, verdict, hold, status };
}
