/** What a message brought when it came before: one row a part. */
import type { Pool } from 'pg';
import { unpackBytes } from './compress.js';

export interface DeliveredPart {
  readonly submissionId: string;
  readonly status: number;
  readonly answer: Buffer;
}

/**
 * The parts of a delivery by the key of its first part, in the order in which they were made; none: it
 * has not come before.
 */
export async function findDelivery(
  pool: Pool,
  sourceKey: number,
  setId: string,
): Promise<DeliveredPart[]> {
  const { rows } = await pool.query<{ submission_id: string; status: number; answer: Buffer }>({
    name: 'find-delivery',
    text: `with whole as (
             select submission_id from submissions where set_id = $1 and source_key = $2 and holds_key)
           select s.submission_id, s.status, s.answer
             from submissions s
            where s.submission_id in (select submission_id from whole)
               or s.part_of in (select submission_id from whole)
            order by s.part_of nulls first, s.submission_id`,
    values: [setId, sourceKey],
  });
  return rows.map((row) => ({
    submissionId: row.submission_id,
    status: row.status,
    answer: unpackBytes(row.answer),
  }));
}
