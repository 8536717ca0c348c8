/** Two registrations of one person become one; undone, they are two again. */
import type { Pool, PoolClient } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import type { Origin } from './audit.js';
import { lockPatientRegister, lockPatients } from './locks.js';
import { moveAssociations, moveReadings, moveWaitingSets } from './move-readings.js';
import type { Move } from './move-readings.js';
import { addLinkedVersion } from './patient-links.js';
import { takeStamp } from './publication-clock.js';
import { inTransaction } from './transaction.js';
import { uuid7 } from './uuid7.js';

/** Who asked for it, and why. */
export interface MergeCause {
  readonly reason: string;
  readonly clientKey: number | null;
  readonly personKey: number | null;
  readonly submissionId: string | null;
  readonly origin?: Origin | undefined;
}

export interface MergeRequest extends MergeCause {
  /** An identifier of the registration that ends. */
  readonly retired: Identifier;
  /** One of the registration that stays. */
  readonly survivor: Identifier;
}

export type MergeOutcome =
  | {
      readonly kind: 'merged';
      readonly mergeId: string;
      readonly retiredId: string;
      readonly survivorId: string;
      readonly readings: number;
    }
  /** Both lead to one patient already. */
  | { readonly kind: 'one-already' }
  | { readonly kind: 'unknown'; readonly which: 'retired' | 'survivor' };

interface Party {
  readonly key: number;
  readonly id: string;
  readonly registered: boolean;
}

/**
 * All readings of the retired patient get a next version under the survivor, in one commit. An identifier
 * that senders named and nobody registered may be the retired one; the survivor must be registered.
 */
export async function mergePatients(pool: Pool, request: MergeRequest): Promise<MergeOutcome> {
  return inTransaction(pool, async (client) => {
    await lockPatientRegister(client);
    const retired = await findParty(client, request.retired);
    const survivor = await findParty(client, request.survivor);
    if (survivor?.registered !== true) return { kind: 'unknown', which: 'survivor' };
    if (retired === null) return { kind: 'unknown', which: 'retired' };
    if (retired.key === survivor.key) return { kind: 'one-already' };
    await lockPatients(client, [retired.key, survivor.key]);
    const done = await mergeInside(client, retired, survivor, request);
    return { kind: 'merged', ...done, retiredId: retired.id, survivorId: survivor.id };
  });
}

async function mergeInside(
  client: PoolClient,
  retired: Party,
  survivor: Party,
  cause: MergeCause,
): Promise<{ readonly mergeId: string; readonly readings: number }> {
  const mergeId = uuid7();
  await insertAudit(client, [
    {
      clientKey: cause.clientKey,
      personKey: cause.personKey,
      patientKey: retired.key,
      origin: cause.origin,
      action: 'patients-merged',
      outcome: 200,
      entity: `Patient/${retired.id}`,
      detail: { survivor: `Patient/${survivor.id}`, merge: mergeId, ...messageOf(cause) },
    },
  ]);
  const stampMs = await takeStamp(client);
  const whole = { fromKey: retired.key, toKey: survivor.key, stampMs, identifierKeys: null };
  const readings = await joinPatients(client, mergeId, whole, cause);
  if (retired.registered) await addLinkedVersion(client, retired.key, stampMs);
  await addLinkedVersion(client, survivor.key, stampMs);
  return { mergeId, readings };
}

/** The message that did it, for the audit trail. */
function messageOf({ clientKey, submissionId }: MergeCause): { submission?: string } {
  return clientKey === null && submissionId !== null ? { submission: submissionId } : {};
}

/**
 * Makes one patient's identifiers, visits, readings and devices another's, inside a transaction that holds
 * the locks of the register and of both. Resolves with how many readings were moved.
 */
export async function joinPatients(
  client: PoolClient,
  mergeId: string,
  move: Move,
  cause: MergeCause,
): Promise<number> {
  await recordMerge(client, mergeId, move, cause);
  const readings = await moveReadings(client, move);
  await moveWaitingSets(client, move);
  await moveAssociations(client, move);
  return readings;
}

async function findParty(client: PoolClient, { system, value }: Identifier): Promise<Party | null> {
  const { rows } = await client.query<{ key: number; id: string; registered: boolean }>(
    `select p.patient_key as key, p.patient_id as id,
            exists (select from patient_versions v where v.patient_key = p.patient_key) as registered
       from patient_identifiers i join patients p on p.patient_key = i.patient_key
      where i.system = $1 and i.value = $2`,
    [system, value],
  );
  return rows[0] ?? null;
}

/** From now on every identifier and visit of the one leads to the other. */
async function recordMerge(
  client: PoolClient,
  mergeId: string,
  { fromKey, toKey, stampMs }: Move,
  cause: MergeCause,
): Promise<void> {
  const stamp = new Date(stampMs).toISOString();
  await client.query(
    `with named as (update patient_identifiers set patient_key = $3 where patient_key = $2 returning identifier_key),
          visits as (update encounters set patient_key = $3 where patient_key = $2 returning encounter_key)
     insert into merges (merge_id, retired_key, survivor_key, stamp, reason, client_key, person_key,
                         submission_id, identifier_keys, encounter_keys)
     values ($1, $2, $3, $4, $5, $6, $7, $8,
             coalesce((select array_agg(identifier_key) from named), '{}'),
             coalesce((select array_agg(encounter_key) from visits), '{}'))`,
    [
      ...[mergeId, fromKey, toKey, stamp, cause.reason],
      ...[cause.clientKey, cause.personKey, cause.submissionId],
    ],
  );
  await client.query(
    'update patients set merged_into = $2, merged_stamp = $3 where patient_key = $1 or merged_into = $1',
    [fromKey, toKey, stamp],
  );
}

export type UnmergeOutcome =
  | { readonly kind: 'undone'; readonly retiredId: string; readonly survivorId: string }
  /** No such merge, or undone before. */
  | { readonly kind: 'unknown' }
  /** The survivor was merged into a third patient since: that merge must be undone first. */
  | { readonly kind: 'merged-since' };

/**
 * What was named by an identifier of the retired patient goes back to it, also what came since the merge.
 * Nothing is judged again but what waits for its patient.
 */
export async function unmergePatients(
  pool: Pool,
  mergeId: string,
  cause: MergeCause,
): Promise<UnmergeOutcome> {
  return inTransaction(pool, async (client) => {
    await lockPatientRegister(client);
    const merge = await findMerge(client, mergeId);
    if (merge === null) return { kind: 'unknown' };
    if (merge.survivor_merged) return { kind: 'merged-since' };
    const { retired_key: toKey, survivor_key: fromKey } = merge;
    await lockPatients(client, [toKey, fromKey]);
    await insertAudit(client, [
      {
        clientKey: cause.clientKey,
        personKey: cause.personKey,
        patientKey: toKey,
        origin: cause.origin,
        action: 'patients-unmerged',
        outcome: 200,
        entity: `Patient/${merge.retired_id}`,
        detail: { survivor: `Patient/${merge.survivor_id}`, merge: mergeId },
      },
    ]);
    const stampMs = await takeStamp(client);
    const move: Move = { fromKey, toKey, stampMs, identifierKeys: merge.identifier_keys };
    await recordUndoing(client, mergeId, merge, stampMs, cause);
    await moveReadings(client, move);
    await moveWaitingSets(client, move);
    await moveAssociations(client, move);
    await addLinkedVersion(client, toKey, stampMs);
    await addLinkedVersion(client, fromKey, stampMs);
    return { kind: 'undone', retiredId: merge.retired_id, survivorId: merge.survivor_id };
  });
}

interface MergeRow {
  retired_key: number;
  survivor_key: number;
  retired_id: string;
  survivor_id: string;
  survivor_merged: boolean;
  identifier_keys: number[];
  encounter_keys: number[];
}

async function findMerge(client: PoolClient, mergeId: string): Promise<MergeRow | null> {
  const { rows } = await client.query<MergeRow>(
    `select m.retired_key, m.survivor_key, r.patient_id as retired_id, s.patient_id as survivor_id,
            s.merged_into is not null as survivor_merged, m.identifier_keys, m.encounter_keys
       from merges m join patients r on r.patient_key = m.retired_key
                     join patients s on s.patient_key = m.survivor_key
      where m.merge_id = $1 and m.undone_stamp is null`,
    [mergeId],
  );
  return rows[0] ?? null;
}

async function recordUndoing(
  client: PoolClient,
  mergeId: string,
  merge: MergeRow,
  stampMs: number,
  cause: MergeCause,
): Promise<void> {
  const { retired_key: retiredKey } = merge;
  await client.query(
    'update merges set undone_stamp = $2, undone_reason = $3, undone_by = $4 where merge_id = $1',
    [mergeId, new Date(stampMs).toISOString(), cause.reason, cause.clientKey],
  );
  await client.query(
    'update patient_identifiers set patient_key = $1 where identifier_key = any($2)',
    [retiredKey, merge.identifier_keys],
  );
  await client.query('update encounters set patient_key = $1 where encounter_key = any($2)', [
    retiredKey,
    merge.encounter_keys,
  ]);
  await client.query(
    'update patients set merged_into = null, merged_stamp = null where patient_key = $1',
    [retiredKey],
  );
  // Those that had been merged into it before are its own again.
  await client.query(
    `update patients p set merged_into = $1
       from merges m where m.retired_key = p.patient_key and m.survivor_key = $1 and m.undone_stamp is null`,
    [retiredKey],
  );
}
