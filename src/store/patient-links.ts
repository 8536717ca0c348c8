/** What merges add to a Patient as it was registered: links to the other registration (R4 Patient.link). */
import type { PoolClient } from 'pg';

/** As FHIR has it: a reference to the other Patient and what it is to this one. */
export interface PatientLink {
  readonly other: { readonly reference: string };
  readonly type: 'replaced-by' | 'replaces';
}

type Resource = Readonly<Record<string, unknown>>;

/** The links that the merges in force give a patient. */
export async function linksOf(client: PoolClient, patientKey: number): Promise<PatientLink[]> {
  const { rows } = await client.query<{ patient_id: string; type: PatientLink['type'] }>(
    `select p.patient_id, 'replaced-by' as type
       from merges m join patients p on p.patient_key = m.survivor_key
      where m.retired_key = $1 and m.undone_stamp is null
     union all
     select p.patient_id, 'replaces'
       from merges m join patients p on p.patient_key = m.retired_key
      where m.survivor_key = $1 and m.undone_stamp is null
        and exists (select from patient_versions v where v.patient_key = m.retired_key)
      order by type, patient_id`,
    [patientKey],
  );
  return rows.map(({ patient_id: id, type }) => ({
    other: { reference: `Patient/${id}` },
    type,
  }));
}

/** The resource with the links of its merges in place of those that an earlier version had. */
export function withLinks(resource: Resource, links: readonly PatientLink[]): Resource {
  const linked: { link?: readonly PatientLink[] } & Resource = { ...resource, link: links };
  if (links.length === 0) delete linked.link;
  return links.some(({ type }) => type === 'replaced-by') ? { ...linked, active: false } : linked;
}

/**
 * Writes the next version of a registered patient, the same but for its links. One that stood as retired
 * and is no more is active again.
 */
export async function addLinkedVersion(
  client: PoolClient,
  patientKey: number,
  stampMs: number,
): Promise<void> {
  const { rows } = await client.query<{ version: number; resource: Resource }>(
    'select version, resource from patient_versions where patient_key = $1 and superseded is null',
    [patientKey],
  );
  const newest = rows[0];
  if (newest === undefined) return;
  const links = await linksOf(client, patientKey);
  const stamp = new Date(stampMs).toISOString();
  await client.query(
    'update patient_versions set superseded = $2 where patient_key = $1 and superseded is null',
    [patientKey, stamp],
  );
  await client.query(
    `insert into patient_versions (patient_key, version, stamp, family_name, birth_date, gender, resource)
     select patient_key, version + 1, $3, family_name, birth_date, gender, $4
       from patient_versions where patient_key = $1 and version = $2`,
    [patientKey, newest.version, stamp, JSON.stringify(withLinks(revived(newest.resource), links))],
  );
}

/** Without the mark that only its being retired had given it. */
function revived(resource: Resource): Resource {
  const { link = [] } = resource as { link?: readonly PatientLink[] };
  if (!link.some(({ type }) => type === 'replaced-by')) return resource;
  return { ...resource, active: true };
}
