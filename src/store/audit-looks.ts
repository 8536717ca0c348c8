/** Entries of looks (reads, searches, refused accesses) between their request and the disk. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { AuditEntry } from './audit.js';
import { digestOf } from './audit-hashes.js';
import type { AuditRecord } from './audit-hashes.js';
import type { RegisteredWriter } from './audit-writers.js';
import type { Names } from './names.js';

/** What a request was about, told without asking the database. */
export interface Look extends Omit<AuditEntry, 'personKey' | 'patientKey'> {
  readonly person?: Identifier | null | undefined;
  /** Patients that it was about, by the ids of their resources: each gets an entry. */
  readonly patientIds?: readonly string[] | undefined;
  /** Parameters of a search. Their values become digests: they may be a patient's identifiers. */
  readonly query?: readonly (readonly [name: string, value: string])[] | undefined;
}

/** A look with the record that it will be, but for what the database must tell. */
export interface WaitingLook {
  readonly record: AuditRecord;
  readonly person: Identifier | null;
  readonly patientId: string | null;
  readonly query: Look['query'];
}

/** The records of these looks, with the keys of their people and patients. Unknown patients are left out. */
export async function completeLooks(
  pool: Pool,
  names: Names,
  { key, digestKey }: RegisteredWriter,
  looks: readonly WaitingLook[],
): Promise<AuditRecord[]> {
  const people = looks.flatMap(({ person }) => (person === null ? [] : [person]));
  if (people.length > 0) await names.learnPeople(people);
  const patients = await findPatientKeys(pool, looks);
  return looks.map(({ record, person, patientId, query }) => ({
    ...record,
    writer_key: key,
    person_key: names.person(person),
    patient_key: patientId === null ? null : (patients.get(patientId) ?? null),
    detail: query === undefined ? record.detail : withQuery(record.detail, digestKey, query),
  }));
}

async function findPatientKeys(
  pool: Pool,
  looks: readonly WaitingLook[],
): Promise<Map<string, number>> {
  const ids = new Set(looks.flatMap(({ patientId }) => (patientId === null ? [] : [patientId])));
  if (ids.size === 0) return new Map();
  const { rows } = await pool.query<{ patient_id: string; patient_key: number }>({
    name: 'find-patient-keys',
    text: 'select patient_id, patient_key from patients where patient_id = any($1::uuid[])',
    values: [[...ids]],
  });
  return new Map(rows.map((row) => [row.patient_id, row.patient_key]));
}

/** Names as they were, values as digests: who knows a value can ask whether it was searched for. */
function withQuery(detail: unknown, digestKey: Buffer, query: NonNullable<Look['query']>): unknown {
  const digests = query.map(([name, value]) => [name, digestOf(digestKey, value)]);
  return { ...(detail as object | null), query: digests };
}
