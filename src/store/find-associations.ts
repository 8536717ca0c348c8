/** Whose devices were and are, for whoever looks after them. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { AssociationSpan } from './association-rows.js';
import { SqlValues } from './sql-values.js';

export interface AssociationRecord extends AssociationSpan {
  readonly deviceId: string;
  readonly device: Identifier;
  /** By which the patient was named. */
  readonly patient: Identifier;
  readonly origin: 'message' | 'admin';
  readonly endedBy: string | null;
  /** The message that made it; null: none did. */
  readonly submissionId: string | null;
  /** Name of the client that made it; null: none did. */
  readonly recordedBy: string | null;
  readonly recordedMs: number;
}

export interface AssociationSearch {
  readonly deviceId?: string | undefined;
  /** Of the patient to whom this identifier leads, by whichever identifier they were named. */
  readonly patient?: Identifier | undefined;
  readonly associationId?: string | undefined;
  /** Not ended yet. */
  readonly open?: boolean | undefined;
}

/** The place of an association in the order of its list. */
export interface AssociationPosition {
  readonly fromMs: number;
  readonly associationId: string;
}

interface AssociationRow {
  association_id: string;
  device_id: string;
  device_system: string;
  device_value: string;
  patient_system: string;
  patient_value: string;
  from_at: Date;
  to_at: Date | null;
  origin: 'message' | 'admin';
  ended_by: string | null;
  submission_id: string | null;
  recorded_by: string | null;
  recorded_at: Date;
}

/** A page, the newest start first. */
export async function listAssociations(
  pool: Pool,
  { deviceId, patient, associationId, open }: AssociationSearch,
  after: AssociationPosition | null,
  limit: number,
): Promise<AssociationRecord[]> {
  const values = new SqlValues();
  const demands = ['true'];
  if (deviceId !== undefined) demands.push(`d.device_id = ${values.bind(deviceId, 'uuid')}`);
  if (associationId !== undefined) {
    demands.push(`a.association_id = ${values.bind(associationId, 'uuid')}`);
  }
  if (patient !== undefined) {
    demands.push(`a.patient_key = (select n.patient_key from patient_identifiers n
      where n.system = ${values.bind(patient.system)} and n.value = ${values.bind(patient.value)})`);
  }
  if (open !== undefined) demands.push(`a.to_at is ${open ? '' : 'not '}null`);
  if (after !== null) {
    const place = [values.bindTime(after.fromMs), values.bind(after.associationId, 'uuid')];
    demands.push(`(a.from_at, a.association_id) < (${place.join(', ')})`);
  }
  const { rows } = await pool.query<AssociationRow>(
    `select a.association_id, d.device_id, d.system as device_system, d.value as device_value,
            i.system as patient_system, i.value as patient_value, a.from_at, a.to_at, a.origin,
            a.ended_by, a.submission_id, c.name as recorded_by, a.recorded_at
       from associations a
       join devices d using (device_key)
       join patient_identifiers i using (identifier_key)
       left join clients c using (client_key)
      where ${demands.join(' and ')}
      order by a.from_at desc, a.association_id desc limit ${values.bind(limit)}`,
    values.list,
  );
  return rows.map(toRecord);
}

function toRecord(row: AssociationRow): AssociationRecord {
  return {
    associationId: row.association_id,
    deviceId: row.device_id,
    device: { system: row.device_system, value: row.device_value },
    patient: { system: row.patient_system, value: row.patient_value },
    fromMs: row.from_at.getTime(),
    toMs: row.to_at?.getTime() ?? null,
    origin: row.origin,
    endedBy: row.ended_by,
    submissionId: row.submission_id,
    recordedBy: row.recorded_by,
    recordedMs: row.recorded_at.getTime(),
  };
}
