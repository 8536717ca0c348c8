/** Who is where now: the patients of a ward, and the wards that have any. */
import type { Pool } from 'pg';

/** A place with places below it, e.g. the ward of its beds. */
export interface Ward {
  readonly path: string;
  /** Patients who are there now. */
  readonly patients: number;
}

const PRESENT = `stays s join places l on l.place_key = s.place_key
    join patients p on p.patient_key = s.patient_key
   where s.to_at is null and not s.voided`;

/** Whoever was merged into another by then stands for that one. */
function patientAt(asOf: string): string {
  return `case when p.merged_stamp <= ${asOf} then p.merged_into else p.patient_key end`;
}

/** Keys of the patients who are at the place or below it now; null: no such place was ever named. */
export async function findWardPatients(
  pool: Pool,
  path: string,
  asOfMs: number,
): Promise<number[] | null> {
  const { rows: places } = await pool.query(
    "select from places where path = $1 or starts_with(path, $1 || '/') limit 1",
    [path],
  );
  if (places.length === 0) return null;
  const { rows } = await pool.query<{ key: number }>(
    `select distinct ${patientAt('$2')} as key from ${PRESENT}
        and (l.path = $1 or starts_with(l.path, $1 || '/')) order by key`,
    [path, new Date(asOfMs)],
  );
  return rows.map((row) => row.key);
}

/** The wards in which somebody is, by name: the places one step above where the patients are. */
export async function listWards(pool: Pool, asOfMs: number, limit: number): Promise<Ward[]> {
  const { rows } = await pool.query<Ward>(
    `select w.path, count(distinct w.patient_key)::int as patients
       from (select regexp_replace(l.path, '(.)/[^/]*$', '\\1') as path,
                    ${patientAt('$1')} as patient_key
               from ${PRESENT}) w
      group by w.path order by w.path limit $2`,
    [new Date(asOfMs), limit],
  );
  return rows;
}

/** Whom these ids led to at a stamp, by id; an id that leads to nobody is not among them. */
export async function findPatientKeys(
  pool: Pool,
  ids: readonly string[],
  asOfMs: number,
): Promise<ReadonlyMap<string, number>> {
  const { rows } = await pool.query<{ id: string; key: number }>(
    `select p.patient_id as id, ${patientAt('$2')} as key
       from patients p where p.patient_id = any($1::uuid[])`,
    [ids, new Date(asOfMs)],
  );
  return new Map(rows.map(({ id, key }) => [id, key]));
}
