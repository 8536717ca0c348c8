/** Merges of patients, for those who may have to undo one. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';

export interface KeptMerge {
  readonly mergeId: string;
  readonly retiredId: string;
  readonly survivorId: string;
  /** What led to the retired patient. */
  readonly identifiers: readonly Identifier[];
  readonly mergedMs: number;
  readonly reason: string;
  readonly undoneMs: number | null;
  readonly undoneReason: string | null;
}

interface MergeRow {
  merge_id: string;
  retired_id: string;
  survivor_id: string;
  identifiers: Identifier[] | null;
  stamp: Date;
  reason: string;
  undone_stamp: Date | null;
  undone_reason: string | null;
}

/** Newest first, after one (null: from the newest). */
export async function listMerges(
  pool: Pool,
  afterId: string | null,
  limit: number,
): Promise<KeptMerge[]> {
  const { rows } = await pool.query<MergeRow>({
    name: 'list-merges',
    text: `select m.merge_id, r.patient_id as retired_id, s.patient_id as survivor_id,
                  m.stamp, m.reason, m.undone_stamp, m.undone_reason,
                  (select jsonb_agg(jsonb_build_object('system', i.system, 'value', i.value))
                     from patient_identifiers i where i.identifier_key = any(m.identifier_keys)) as identifiers
             from merges m join patients r on r.patient_key = m.retired_key
                           join patients s on s.patient_key = m.survivor_key
            where $1::uuid is null or m.merge_id < $1
            order by m.merge_id desc limit $2`,
    values: [afterId, limit],
  });
  return rows.map((row) => ({
    mergeId: row.merge_id,
    retiredId: row.retired_id,
    survivorId: row.survivor_id,
    identifiers: row.identifiers ?? [],
    mergedMs: row.stamp.getTime(),
    reason: row.reason,
    undoneMs: row.undone_stamp?.getTime() ?? null,
    undoneReason: row.undone_reason,
  }));
}
