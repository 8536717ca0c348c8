/** Which registered patients identifiers lead to. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { nameOf } from './names.js';

/** Keys of registered patients by the name of the identifier; one that nobody registered is missing. */
export async function findRegistered(
  pool: Pool,
  identifiers: readonly Identifier[],
): Promise<Map<string, number>> {
  const { rows } = await pool.query<{ system: string; value: string; patient_key: number }>({
    name: 'find-registered',
    text: `select i.system, i.value, i.patient_key
             from patient_identifiers i join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)
            where exists (select from patient_versions v
                           where v.patient_key = i.patient_key and v.superseded is null)`,
    values: [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)],
  });
  return new Map(rows.map((row) => [nameOf(row), row.patient_key]));
}

/** The newest version of the registered patient that the first of these identifiers leads to; null: none does. */
export async function findRegisteredResource(
  pool: Pool,
  identifiers: readonly Identifier[],
): Promise<{
  readonly version: number;
  readonly resource: Readonly<Record<string, unknown>>;
} | null> {
  const { rows } = await pool.query<{ version: number; resource: Record<string, unknown> }>(
    `select v.version, v.resource
       from unnest($1::text[], $2::text[]) with ordinality as n(system, value, place)
       join patient_identifiers i on i.system = n.system and i.value = n.value
       join patient_versions v on v.patient_key = i.patient_key and v.superseded is null
      order by n.place limit 1`,
    [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)],
  );
  return rows[0] ?? null;
}
