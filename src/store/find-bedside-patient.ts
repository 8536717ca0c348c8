/** One registered patient by a full identifier, for the person who stands at the bed. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { Gender } from '../vitals/words.js';

/** As the register has it now. */
export interface BedsidePatient {
  readonly patientId: string;
  /** That it was found by. */
  readonly identifier: Identifier;
  readonly birthDate: string | null;
  readonly familyName: string | null;
  readonly gender: Gender;
  /** The registered Patient resource. */
  readonly resource: Readonly<Record<string, unknown>>;
}

interface PatientRow {
  patient_id: string;
  system: string;
  value: string;
  birth_date: string | null;
  family_name: string | null;
  gender: Gender;
  resource: Record<string, unknown>;
}

/** Those that the identifiers lead to, each once: after a merge, the survivor. */
export async function findBedsidePatients(
  pool: Pool,
  identifiers: readonly Identifier[],
): Promise<readonly BedsidePatient[]> {
  const { rows } = await pool.query<PatientRow>({
    name: 'find-bedside-patients',
    text: `select distinct on (i.patient_key) p.patient_id, i.system, i.value,
                  v.birth_date, v.family_name, v.gender, v.resource
             from unnest($1::text[], $2::text[]) with ordinality as n(system, value, place)
             join patient_identifiers i on i.system = n.system and i.value = n.value
             join patients p on p.patient_key = i.patient_key
             join patient_versions v on v.patient_key = i.patient_key and v.superseded is null
            order by i.patient_key, n.place`,
    values: [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)],
  });
  return rows.map((row) => ({
    patientId: row.patient_id,
    identifier: { system: row.system, value: row.value },
    birthDate: row.birth_date,
    familyName: row.family_name,
    gender: row.gender,
    resource: row.resource,
  }));
}
