import type { Pool } from 'pg';
import type { SetAnswer } from './example-sets.js';

/** The id of the set's panel, if it has one. */
export function panelOf({ submission }: SetAnswer): string {
  return submission.replace(/0{4}$/, 'ffff');
}

/**
 * Panels of the site that are not what the readings of their sets make them now: by the words of the README,
 * reckoned anew from the rows. Not for sets whose readings lie far apart in time.
 */
export async function panelFaults(pool: Pool): Promise<unknown[]> {
  const { rows } = await pool.query<Readonly<Record<string, unknown>>>(`
    with live as (
      select (left(reading_id::text, 32) || 'ffff')::uuid as set, reading_id, patient_key, status,
             ('x' || right(reading_id::text, 4))::bit(16)::int - 1 as place, true as own
        from readings where superseded is null and status <> 'entered-in-error'
      union all
      select (left(k.submission_id::text, 32) || 'ffff')::uuid, r.reading_id, r.patient_key, r.status, k.place, false
        from linked_readings k join readings r on r.reading_id = k.reading_id
       where r.superseded is null and r.status <> 'entered-in-error'),
    wanted as (
      select set, patient_key, array_agg(reading_id order by place) as members,
             bool_or(status = 'preliminary') as unsettled
        from live group by set, patient_key having count(*) > 1 and bool_or(own)),
    standing as (
      select panel_id, patient_key, members, status = 'preliminary' as unsettled
        from panels where superseded is null and status <> 'entered-in-error')
    select * from wanted w full join standing s on s.panel_id = w.set
     where (w.patient_key, w.members, w.unsettled) is distinct from (s.patient_key, s.members, s.unsettled)
    union all
    select null, null, null, null, p.panel_id, p.patient_key, p.members, null
      from panels p join panels n on n.panel_id = p.panel_id and n.version = p.version + 1
     where p.superseded is distinct from n.stamp`);
  return rows;
}
