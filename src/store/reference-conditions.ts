/** What a search can demand of that which readings point to: patient, device, visit, recorder. */
import { identifiedSql } from './identifier-token.js';
import type { IdentifierToken } from './identifier-token.js';
import type { SqlValues } from './sql-values.js';

/** By our id, or by the identifier. */
export type Pointed =
  { readonly ids: readonly string[] } | { readonly named: readonly IdentifierToken[] };

/** What a reading points to beside its patient. */
export const POINTED_KINDS = ['device', 'encounter', 'recorder'] as const;
export type PointedKind = (typeof POINTED_KINDS)[number];

const DICTIONARIES: Readonly<
  Record<PointedKind, { readonly table: string; readonly key: string; readonly id: string }>
> = {
  device: { table: 'devices', key: 'device_key', id: 'device_id' },
  encounter: { table: 'encounters', key: 'encounter_key', id: 'encounter_id' },
  recorder: { table: 'people', key: 'person_key', id: 'person_id' },
};

/** The demand that rows `r` point to one of these. */
export function pointedSql(kind: PointedKind, pointed: Pointed, values: SqlValues): string {
  const { table, key, id } = DICTIONARIES[kind];
  const demand =
    'ids' in pointed
      ? `x.${id} = any(${values.bind(pointed.ids, 'uuid[]')})`
      : identifiedSql('x', pointed.named, values);
  return `r.${kind}_key = any(array(select x.${key} from ${table} x where ${demand}))`;
}

/**
 * The demand that rows `r` are of one of these patients. One patient is compared as such, so that the
 * primary key delivers the rows in order of time. Who was merged into another by then stands for that one.
 */
export function patientSql(ids: readonly string[], asOfMs: number, values: SqlValues): string {
  const keys = `${standingKey(asOfMs, values)}
                  where p.patient_id = any(${values.bind(ids, 'uuid[]')})`;
  return ids.length === 1 ? `r.patient_key = (${keys})` : `r.patient_key = any(array(${keys}))`;
}

/** The same by any identifier that the patient ever had. */
export function patientNamedSql(
  tokens: readonly IdentifierToken[],
  asOfMs: number,
  values: SqlValues,
): string {
  const keys = `${standingKey(asOfMs, values)}
                  join patient_identifiers i on i.patient_key = p.patient_key
                 where ${identifiedSql('i', tokens, values)}`;
  return `r.patient_key = any(array(${keys}))`;
}

/** The demand that the Observation itself names its subject by one of these identifiers. */
export function subjectNamedSql(tokens: readonly IdentifierToken[], values: SqlValues): string {
  return `r.identifier_key = any(array(
    select i.identifier_key from patient_identifiers i where ${identifiedSql('i', tokens, values)}))`;
}

function standingKey(asOfMs: number, values: SqlValues): string {
  return `select case when p.merged_stamp <= ${values.bindTime(asOfMs)} then p.merged_into
                      else p.patient_key end
            from patients p`;
}
