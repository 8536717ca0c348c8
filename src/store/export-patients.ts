/** Walking over registered patients as they were at a stamp, for an export: in the order of their ids. */
import type { Pool } from 'pg';
import type { Window } from './export-observations.js';
import type { ExportSelection, KeyRange } from './exports.js';
import { PATIENT_COLUMNS, PATIENT_TABLES, toKeptPatient } from './find-patients.js';
import type { KeptPatient, PatientRow } from './find-patients.js';
import { SqlValues } from './sql-values.js';

/** What of a selection says which patients are wanted. */
export interface PatientWalk extends Pick<ExportSelection, 'patientKeys' | 'sinceMs' | 'untilMs'> {
  readonly asOfMs: number;
}

function demandsOf(walk: PatientWalk, range: KeyRange, values: SqlValues): string {
  const asOf = values.bindTime(walk.asOfMs);
  const { sinceMs, untilMs, patientKeys } = walk;
  return [
    `v.stamp <= ${asOf} and (v.superseded is null or v.superseded > ${asOf})`,
    ...(sinceMs === null ? [] : [`v.stamp > ${values.bindTime(sinceMs)}`]),
    ...(untilMs === null ? [] : [`v.stamp < ${values.bindTime(untilMs)}`]),
    ...(patientKeys === null
      ? []
      : [`p.patient_key = any(${values.bind(patientKeys, 'integer[]')})`]),
    ...(range.afterKey === null ? [] : [`p.patient_id > ${values.bind(range.afterKey, 'uuid')}`]),
    ...(range.untilKey === null ? [] : [`p.patient_id <= ${values.bind(range.untilKey, 'uuid')}`]),
  ].join(' and ');
}

/** How many patients a window of `size` holds. */
export async function countPatientWindow(
  pool: Pool,
  walk: PatientWalk,
  range: KeyRange,
  size: number,
): Promise<Window & { readonly resources: number }> {
  const values = new SqlValues();
  const limit = values.bind(size, 'integer');
  const { rows } = await pool.query<{ resources: number; last_id: string | null }>(
    `select count(*)::int as resources, max(w.patient_id::text) as last_id
       from (select p.patient_id from ${PATIENT_TABLES} where ${demandsOf(walk, range, values)}
              order by p.patient_id limit ${limit}) w`,
    values.list,
  );
  const { resources = 0, last_id: lastId = null } = rows[0] ?? {};
  return { resources, endKey: resources < size ? null : lastId };
}

/** The patients of a window of `size`. */
export async function readPatientWindow(
  pool: Pool,
  walk: PatientWalk,
  range: KeyRange,
  size: number,
): Promise<Window & { readonly rows: readonly KeptPatient[] }> {
  const values = new SqlValues();
  const { rows } = await pool.query<PatientRow>(
    `select ${PATIENT_COLUMNS} from ${PATIENT_TABLES} where ${demandsOf(walk, range, values)}
      order by p.patient_id limit ${values.bind(size, 'integer')}`,
    values.list,
  );
  const endKey = rows.length < size ? null : (rows.at(-1)?.patient_id ?? null);
  return { rows: rows.map(toKeptPatient), endKey };
}
