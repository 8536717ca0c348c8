/** Registered patients by id and identifier, and their versions. */
import type { Pool } from 'pg';
import { identifiedSql } from './identifier-token.js';
import type { IdentifierToken } from './identifier-token.js';
import type { HistoryPage } from './observation-history.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

/** One version of a patient as it was registered. */
export interface KeptPatient {
  readonly id: string;
  readonly version: number;
  readonly stampMs: number;
  readonly resource: Readonly<Record<string, unknown>>;
}

/** The newest version, and the stamp of the version before it. */
export interface NewestPatient {
  readonly version: KeptPatient;
  readonly replacedStampMs: number | null;
}

/** One demand on a patient; its list holds alternatives. */
export type PatientCondition =
  | { readonly on: 'id'; readonly ids: readonly string[] }
  | { readonly on: 'identifier'; readonly tokens: readonly IdentifierToken[] };

export interface PatientSearch {
  readonly conditions: readonly PatientCondition[];
  readonly asOfMs: number;
}

/** In the order of their ids. */
export interface PatientPage extends PatientSearch {
  readonly afterId: string | null;
  readonly limit: number;
}

export interface PatientRow {
  patient_id: string;
  version: number;
  stamp_ms: string;
  resource: Record<string, unknown>;
}

export const PATIENT_COLUMNS = `p.patient_id, v.version, v.resource,
  (extract(epoch from v.stamp) * 1000)::bigint::text as stamp_ms`;
export const PATIENT_TABLES = 'patient_versions v join patients p on p.patient_key = v.patient_key';

export function toKeptPatient(row: PatientRow): KeptPatient {
  return {
    id: row.patient_id,
    version: row.version,
    stampMs: Number(row.stamp_ms),
    resource: row.resource,
  };
}

/** Null: there is no such patient, or nobody has registered it. */
export async function findPatient(pool: Pool, id: string): Promise<NewestPatient | null> {
  const { rows } = await pool.query<PatientRow & { replaced_ms: string | null }>({
    name: 'find-patient',
    text: `select ${PATIENT_COLUMNS},
                  (select (extract(epoch from b.stamp) * 1000)::bigint::text from patient_versions b
                    where b.patient_key = v.patient_key and b.version = v.version - 1) as replaced_ms
             from ${PATIENT_TABLES} where p.patient_id = $1 and v.superseded is null`,
    values: [id],
  });
  const row = rows[0];
  if (row === undefined) return null;
  return {
    version: toKeptPatient(row),
    replacedStampMs: row.replaced_ms === null ? null : Number(row.replaced_ms),
  };
}

export async function findPatientVersion(
  pool: Pool,
  id: string,
  version: number,
): Promise<KeptPatient | null> {
  const { rows } = await pool.query<PatientRow>({
    name: 'find-patient-version',
    text: `select ${PATIENT_COLUMNS} from ${PATIENT_TABLES} where p.patient_id = $1 and v.version = $2`,
    values: [id, version],
  });
  return rows[0] === undefined ? null : toKeptPatient(rows[0]);
}

/** Versions of patients, newest first. */
export async function listPatientVersions(
  pool: Pool,
  { id, sinceMs, after, limit }: HistoryPage,
): Promise<KeptPatient[]> {
  const values = new SqlValues();
  const demands = [timeRangeSql('v.stamp', { fromMs: sinceMs, toMs: null }, values)];
  if (id !== null) demands.push(`p.patient_id = ${values.bind(id, 'uuid')}`);
  if (after !== null) {
    const place = [values.bindTime(after.keyMs), values.bind(after.id, 'uuid')];
    demands.push(`(v.stamp, p.patient_id) < (${place.join(', ')})`);
  }
  const { rows } = await pool.query<PatientRow>(
    `select ${PATIENT_COLUMNS} from ${PATIENT_TABLES} where ${demands.join(' and ')}
      order by v.stamp desc, p.patient_id desc limit ${values.bind(limit)}`,
    values.list,
  );
  return rows.map(toKeptPatient);
}

/** Registered patients that meet every condition, as they were at `asOfMs`. */
export async function findPatients(
  pool: Pool,
  { conditions, asOfMs, afterId, limit }: PatientPage,
): Promise<KeptPatient[]> {
  const values = new SqlValues();
  const demands = demandsOf({ conditions, asOfMs }, values);
  if (afterId !== null) demands.push(`p.patient_id > ${values.bind(afterId, 'uuid')}`);
  const { rows } = await pool.query<PatientRow>(
    `select ${PATIENT_COLUMNS} from ${PATIENT_TABLES} where ${demands.join(' and ')}
      order by p.patient_id limit ${values.bind(limit)}`,
    values.list,
  );
  return rows.map(toKeptPatient);
}

export async function countPatients(pool: Pool, search: PatientSearch): Promise<number> {
  const values = new SqlValues();
  const demands = demandsOf(search, values);
  const { rows } = await pool.query<{ count: number }>(
    `select count(*)::int as count from ${PATIENT_TABLES} where ${demands.join(' and ')}`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}

function demandsOf({ conditions, asOfMs }: PatientSearch, values: SqlValues): string[] {
  const asOf = values.bindTime(asOfMs);
  return [
    `v.stamp <= ${asOf} and (v.superseded is null or v.superseded > ${asOf})`,
    ...conditions.map((condition) =>
      condition.on === 'id'
        ? `p.patient_id = any(${values.bind(condition.ids, 'uuid[]')})`
        : identifierSql(condition.tokens, values),
    ),
  ];
}

/** An identifier keeps leading to its patient, also when a later version of the resource leaves it out. */
function identifierSql(tokens: readonly IdentifierToken[], values: SqlValues): string {
  return `v.patient_key in (
    select i.patient_key from patient_identifiers i where ${identifiedSql('i', tokens, values)})`;
}
