/** Registered patients as subjects of what is sent in: by id, or by one of their identifiers. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { nameOf } from './names.js';

export interface Subject {
  readonly id: string;
  /** At least one, the one known longest first. */
  readonly identifiers: readonly Identifier[];
}

interface SubjectRow {
  id: string;
  identifiers: Identifier[];
}

/** An id, and the patient that it stands for now: that of a merged one leads to the survivor. */
const SUBJECTS = `
  select s.patient_id as id, s.patient_key,
         (select jsonb_agg(jsonb_build_object('system', i.system, 'value', i.value) order by i.identifier_key)
            from patient_identifiers i where i.patient_key = s.patient_key) as identifiers
    from patients s
   where exists (select from patient_versions v
                  where v.patient_key = s.patient_key and v.superseded is null)`;

/** By the ids that were asked for; one that leads to nobody registered is missing. */
export async function findSubjects(
  pool: Pool,
  ids: readonly string[],
): Promise<Map<string, Subject>> {
  if (ids.length === 0) return new Map();
  const { rows } = await pool.query<SubjectRow & { asked: string }>({
    name: 'find-subjects',
    text: `with named as (
             select p.patient_id as asked, coalesce(p.merged_into, p.patient_key) as key
               from patients p where p.patient_id = any($1::uuid[]))
           select n.asked, s.id, s.identifiers from named n join (${SUBJECTS}) s on s.patient_key = n.key
            where s.identifiers is not null`,
    values: [ids],
  });
  return new Map(rows.map(({ asked, id, identifiers }) => [asked, { id, identifiers }]));
}

/** By the names of the identifiers that were asked for. */
export async function findSubjectsByIdentifier(
  pool: Pool,
  wanted: readonly Identifier[],
): Promise<Map<string, Subject>> {
  if (wanted.length === 0) return new Map();
  const { rows } = await pool.query<SubjectRow & Identifier>({
    name: 'find-subjects-by-identifier',
    text: `with named as (
             select distinct n.system, n.value, i.patient_key as key
               from unnest($1::text[], $2::text[]) as n(system, value)
               join patient_identifiers i on i.system = n.system and i.value = n.value)
           select n.system, n.value, s.id, s.identifiers
             from named n join (${SUBJECTS}) s on s.patient_key = n.key`,
    values: [wanted.map(({ system }) => system), wanted.map(({ value }) => value)],
  });
  return new Map(
    rows.map(({ system, value, id, identifiers }) => [
      nameOf({ system, value }),
      { id, identifiers },
    ]),
  );
}
