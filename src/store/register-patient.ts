/** Registration: a patient known by one of its identifiers gets its first or its next version. */
import type { Pool, PoolClient } from 'pg';
import { uuid7 } from './uuid7.js';
import type { Identifier, RegisteredPatient } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import type { Origin } from './audit.js';
import type { KeptPatient } from './find-patients.js';
import { lockPatientRegister, lockPatients } from './locks.js';
import { joinPatients } from './merge-patients.js';
import { nameOf } from './names.js';
import { linksOf, withLinks } from './patient-links.js';
import { takeStamp } from './publication-clock.js';
import { inTransaction } from './transaction.js';

export interface Registration extends RegisteredPatient {
  /** The registered patient with any of these is meant. */
  readonly matching: readonly Identifier[];
  /** All identifiers of the resource. */
  readonly identifiers: readonly Identifier[];
  readonly resource: Readonly<Record<string, unknown>>;
  /** The id that the resource claims; null: none. */
  readonly claimedId: string | null;
  /** The version that the sender has seen; null: it did not say. */
  readonly expectedVersion: number | null;
  /** Null: a message of a peer registers. */
  readonly clientKey: number | null;
  readonly origin?: Origin | undefined;
  /** The message that registers. */
  readonly submissionId?: string | undefined;
}

export type RegistrationRefusal =
  | 'several-matches'
  /** The claimed id is not that of the patient. */
  | 'other-id'
  /** The patient has another version than the one expected, or none. */
  | 'stale-version'
  /** An identifier of the resource leads to another patient. */
  | 'identifier-taken';

export type RegistrationResult =
  | {
      readonly outcome: 'created' | 'updated' | 'unchanged';
      readonly patientKey: number;
      readonly version: KeptPatient;
    }
  | { readonly outcome: RegistrationRefusal };

interface KnownIdentifier {
  readonly system: string;
  readonly value: string;
  readonly patient_key: number;
  readonly patient_id: string;
  /** Null: nobody has registered this patient. */
  readonly version: number | null;
}

/** The patient that is to get a version; keys null: it is new here. */
interface Target {
  readonly patientKey: number | null;
  readonly id: string;
  readonly version: number | null;
  /** Rows of identifiers that nobody had registered, and that turn out to be this patient's. */
  readonly absorbed: readonly number[];
}

/**
 * Writes a version unless the newest one says the very same. Registrations of a site follow one
 * another, so that two with the same identifier cannot make two patients.
 */
export async function registerPatient(
  pool: Pool,
  registration: Registration,
): Promise<RegistrationResult> {
  return inTransaction(pool, async (client) => {
    await lockPatientRegister(client);
    const known = await readKnown(client, registration);
    const target = chooseTarget(registration, known);
    if (typeof target === 'string') return { outcome: target };
    const patientKey = target.patientKey ?? (await insertPatient(client, target.id));
    await insertIdentifiers(client, patientKey, registration.identifiers, known);
    // Whoever judges this patient's readings at this moment sees the register before or after, not between.
    await lockPatients(client, [patientKey, ...target.absorbed]);
    const result = await writeVersion(client, registration, { ...target, patientKey });
    if (target.absorbed.length > 0) await absorb(client, registration, target.absorbed, result);
    return result;
  });
}

/** What waited under the other identifiers of this person waits under the person, and is judged again. */
async function absorb(
  client: PoolClient,
  { clientKey }: Registration,
  absorbed: readonly number[],
  { outcome, patientKey, version }: Extract<RegistrationResult, { patientKey: number }>,
): Promise<void> {
  const stampMs = outcome === 'unchanged' ? await takeStamp(client) : version.stampMs;
  const reason = 'The registration names both identifiers as one person’s.';
  const cause = { reason, clientKey, personKey: null, submissionId: null };
  for (const fromKey of absorbed) {
    const move = { fromKey, toKey: patientKey, stampMs, identifierKeys: null };
    await joinPatients(client, uuid7(), move, cause);
  }
}

async function readKnown(
  client: PoolClient,
  { matching, identifiers }: Registration,
): Promise<KnownIdentifier[]> {
  const wanted = [...matching, ...identifiers];
  const { rows } = await client.query<KnownIdentifier>(
    `select i.system, i.value, i.patient_key, p.patient_id, v.version
       from patient_identifiers i
       join patients p on p.patient_key = i.patient_key
       left join patient_versions v on v.patient_key = p.patient_key and v.superseded is null
      where (i.system, i.value) in (select * from unnest($1::text[], $2::text[]))`,
    [wanted.map(({ system }) => system), wanted.map(({ value }) => value)],
  );
  return rows;
}

function chooseTarget(
  { matching, claimedId, expectedVersion }: Registration,
  known: readonly KnownIdentifier[],
): Target | RegistrationRefusal {
  const asked = new Set(matching.map(nameOf));
  const named = known.filter((one) => asked.has(nameOf(one)));
  const registered = named.filter((one) => one.version !== null);
  if (new Set(registered.map((one) => one.patient_key)).size > 1) return 'several-matches';
  const found = registered[0] ?? named[0] ?? known[0];
  const others = known.filter((one) => one.patient_key !== found?.patient_key);
  if (others.some((one) => one.version !== null)) return 'identifier-taken';
  // Found by another of its identifiers only: for the sender it would be a second patient.
  if (registered.length === 0 && found !== undefined && found.version !== null) {
    return 'identifier-taken';
  }
  const version = found?.version ?? null;
  if (claimedId !== null && (version === null || claimedId !== found?.patient_id))
    return 'other-id';
  if (expectedVersion !== null && expectedVersion !== version) return 'stale-version';
  return {
    patientKey: found?.patient_key ?? null,
    id: found?.patient_id ?? uuid7(),
    version,
    absorbed: [...new Set(others.map((one) => one.patient_key))],
  };
}

async function insertPatient(client: PoolClient, id: string): Promise<number> {
  const { rows } = await client.query<{ patient_key: number }>(
    'insert into patients (patient_id) values ($1) returning patient_key',
    [id],
  );
  const row = rows[0];
  if (row === undefined) throw new Error('an inserted patient has no key');
  return row.patient_key;
}

async function insertIdentifiers(
  client: PoolClient,
  patientKey: number,
  identifiers: readonly Identifier[],
  known: readonly KnownIdentifier[],
): Promise<void> {
  const present = new Set(known.map(nameOf));
  const fresh = identifiers.filter((identifier) => !present.has(nameOf(identifier)));
  if (fresh.length === 0) return;
  await client.query(
    `insert into patient_identifiers (system, value, patient_key)
     select distinct n.system, n.value, $3::int from unnest($1::text[], $2::text[]) as n(system, value)`,
    [fresh.map(({ system }) => system), fresh.map(({ value }) => value), patientKey],
  );
}

async function writeVersion(
  client: PoolClient,
  registration: Registration,
  { patientKey, id, version }: Target & { readonly patientKey: number },
): Promise<Extract<RegistrationResult, { patientKey: number }>> {
  const links = version === null ? [] : await linksOf(client, patientKey);
  const json = JSON.stringify(withLinks(registration.resource, links));
  const same = await findSame(client, patientKey, json);
  if (same !== null) {
    const kept = { id, version: version ?? 0, stampMs: same.stampMs, resource: same.resource };
    await audit(client, registration, patientKey, id, 200, kept.version);
    return { outcome: 'unchanged', patientKey, version: kept };
  }
  const next = (version ?? 0) + 1;
  await audit(client, registration, patientKey, id, version === null ? 201 : 200, next);
  const stampMs = await takeStamp(client);
  const stamp = new Date(stampMs).toISOString();
  await client.query(
    'update patient_versions set superseded = $2 where patient_key = $1 and superseded is null',
    [patientKey, stamp],
  );
  const { familyName, birthDate, gender, clientKey, submissionId } = registration;
  // Read back, so that what the sender is shown is to the letter what every reader will be.
  const { rows } = await client.query<{ resource: Record<string, unknown> }>(
    `insert into patient_versions
       (patient_key, version, stamp, family_name, birth_date, gender, resource, client_key, submission_id)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9) returning resource`,
    [patientKey, next, stamp, familyName, birthDate, gender, json, clientKey, submissionId],
  );
  const kept = { id, version: next, stampMs, resource: rows[0]?.resource ?? {} };
  return { outcome: version === null ? 'created' : 'updated', patientKey, version: kept };
}

async function findSame(
  client: PoolClient,
  patientKey: number,
  json: string,
): Promise<Pick<KeptPatient, 'stampMs' | 'resource'> | null> {
  const { rows } = await client.query<{ stamp_ms: string; resource: Record<string, unknown> }>(
    `select (extract(epoch from stamp) * 1000)::bigint::text as stamp_ms, resource
       from patient_versions
      where patient_key = $1 and superseded is null and resource = $2::jsonb`,
    [patientKey, json],
  );
  const row = rows[0];
  return row === undefined ? null : { stampMs: Number(row.stamp_ms), resource: row.resource };
}

async function audit(
  client: PoolClient,
  { clientKey, origin, submissionId }: Registration,
  patientKey: number,
  id: string,
  outcome: number,
  version: number,
): Promise<void> {
  await insertAudit(client, [
    {
      ...{ clientKey, patientKey, origin },
      action: 'register-patient',
      outcome,
      entity: `Patient/${id}`,
      detail: { version, ...(submissionId === undefined ? {} : { submission: submissionId }) },
    },
  ]);
}
