/** Whose devices were at given times. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';

/** A device at a time, in ms since the epoch. */
export interface DeviceAt {
  readonly device: Identifier;
  readonly atMs: number;
}

/** For each, in order, the identifier of the patient whose it was then; null: nobody's. */
export async function findAssociatedPatients(
  pool: Pool,
  wanted: readonly DeviceAt[],
): Promise<(Identifier | null)[]> {
  const { rows } = await pool.query<{ system: string | null; value: string | null }>({
    name: 'find-associated-patients',
    text: `select i.system, i.value
             from unnest($1::text[], $2::text[], $3::timestamptz[]) with ordinality as n(system, value, at, place)
             left join devices d on d.system = n.system and d.value = n.value
             left join lateral (
               select a.identifier_key from associations a
                where a.device_key = d.device_key and a.from_at <= n.at and (a.to_at is null or n.at < a.to_at)
                order by a.from_at desc limit 1) as whose on true
             left join patient_identifiers i on i.identifier_key = whose.identifier_key
            order by n.place`,
    values: [
      wanted.map(({ device }) => device.system),
      wanted.map(({ device }) => device.value),
      wanted.map(({ atMs }) => new Date(atMs).toISOString()),
    ],
  });
  return rows.map(({ system, value }) =>
    system === null || value === null ? null : { system, value },
  );
}
