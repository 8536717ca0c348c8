/** What else was measured of one sign of a patient about a time: for the picture beside a reading. */
import type { Pool } from 'pg';
import type { ReadingVersion } from '../vitals/shapes.js';
import type { Vital } from '../vitals/words.js';
import { READING_COLUMNS, READING_TABLES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

/**
 * The newest versions of a patient's readings of a sign in a stretch of time (ms since the epoch), whatever
 * their verdict; the newest taken so many, oldest first. Withdrawn ones are left out.
 */
export async function listSignHistory(
  pool: Pool,
  asked: {
    readonly patientId: string;
    readonly vital: Vital;
    readonly fromMs: number;
    readonly toMs: number;
    readonly limit: number;
  },
): Promise<ReadingVersion[]> {
  const { patientId, vital, fromMs, toMs, limit } = asked;
  const { rows } = await pool.query<ReadingRow>({
    name: 'list-sign-history',
    text: `select ${READING_COLUMNS} from ${READING_TABLES}
            where r.patient_key = (select patient_key from patients where patient_id = $1)
              and r.vital = $2 and r.effective_at between $3 and $4
              and r.superseded is null and r.status is distinct from 'entered-in-error'
            order by r.effective_at desc, r.reading_id desc limit $5`,
    values: [patientId, vital, new Date(fromMs), new Date(toMs), limit],
  });
  return rows.map(toReadingVersion).reverse();
}
