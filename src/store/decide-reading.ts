/** A person's decision about one reading: release, correct, reject, withdraw, assign. */
import type { Pool, PoolClient } from 'pg';
import { insertAudit } from './audit.js';
import type { Deciding, DecisionRequest } from './deciding.js';
import type { Edition } from './edition-shelf.js';
import { followPanels } from './follow-panels.js';
import { planDecision } from './plan-decision.js';
import type { Plan, PlanRefusal } from './decision-plans.js';
import { isLinkedTo } from './linked-readings.js';
import { lockPatients } from './locks.js';
import type { Names, PatientName } from './names.js';
import { takeStamp } from './publication-clock.js';
import { publishHeldEarlier } from './publish-held.js';
import {
  holdUntil,
  insertFirstVersions,
  insertNextVersions,
  loadRecords,
  markSetsChanged,
} from './reading-records.js';
import { readingIdRange, submissionOf } from './reading-rows.js';
import { insertSubmissions, submissionRecord } from './submission-records.js';
import { inTransaction } from './transaction.js';

export type DecisionOutcome =
  | { readonly kind: 'done'; readonly readingId: string; readonly newReadingId: string | null }
  | PlanRefusal
  | { readonly kind: 'unknown' };

/** Carries the decision out, or says why not; either way what was sent is kept, except about an unknown reading. */
export async function decideReading(
  pool: Pool,
  names: Names,
  deciding: Deciding,
  request: DecisionRequest,
): Promise<DecisionOutcome> {
  const { rows } = await pool.query<{ patient_key: number; source_key: number }>(
    'select patient_key, source_key from readings where reading_id = $1 and superseded is null',
    [request.readingId],
  );
  const place = rows[0];
  if (place === undefined) return { kind: 'unknown' };
  const { ownSourceKey } = request;
  if (ownSourceKey !== null && ownSourceKey !== place.source_key) {
    if (!(await isLinkedTo(pool, request.readingId, ownSourceKey))) return { kind: 'unknown' };
  }
  const target = await findTarget(names, request);
  if (request.decision.reading?.device !== undefined) {
    await names.learnDevices([request.decision.reading.device.identifier]);
  }
  return inTransaction(pool, async (client) => {
    const keys = [place.patient_key, ...(target === null ? [] : [target.patientKey])];
    await lockPatients(client, keys);
    const editionAt = await deciding.editions.inForce(client);
    const edition = editionAt(request.envelope.receivedAtMs);
    const record = (await loadRecords(client, [request.readingId]))[0];
    const plan =
      record?.patient_key !== place.patient_key
        ? stale()
        : await planDecision({ client, names, deciding, edition, request, record, target });
    if (plan.kind === 'refused') {
      await keepDecision(client, edition, request, plan.status, place.patient_key);
      return plan;
    }
    await carryOut(client, deciding, edition, request, plan);
    return {
      kind: 'done',
      readingId: request.readingId,
      newReadingId: plan.fresh === null ? null : String(plan.fresh.reading_id),
    };
  });
}

function stale(): PlanRefusal {
  return {
    kind: 'refused',
    status: 409,
    detail: 'The reading has changed since. Look at it again before deciding.',
    findings: [],
  };
}

async function findTarget(names: Names, request: DecisionRequest): Promise<PatientName | null> {
  const claimed = request.decision.patient;
  if (claimed === undefined) return null;
  await names.relearnPatients([claimed.identifier]);
  return names.patient(claimed.identifier);
}

async function keepDecision(
  client: PoolClient,
  edition: Edition,
  request: DecisionRequest,
  status: number,
  patientKey: number,
): Promise<void> {
  const { envelope, decision, readingId } = request;
  const answer = Buffer.from(
    JSON.stringify({ reading: readingId, action: decision.action, status }),
  );
  const fate = { setId: null, holdsKey: false, status, answer, patientKey: null };
  await insertSubmissions(client, [
    submissionRecord(envelope, { ...fate, edition: edition.number }),
  ]);
  await insertAudit(client, [
    {
      clientKey: envelope.clientKey,
      personKey: envelope.personKey,
      patientKey,
      origin: envelope.origin,
      action: `decision-${decision.action}`,
      outcome: status,
      entity: `readings/${readingId}`,
      ...(envelope.clientKey === null && { detail: { submission: envelope.submissionId } }),
    },
  ]);
}

async function carryOut(
  client: PoolClient,
  deciding: Deciding,
  edition: Edition,
  request: DecisionRequest,
  plan: Plan,
): Promise<void> {
  await keepDecision(client, edition, request, 200, Number(plan.next.patient_key));
  const stampMs = await takeStamp(client);
  const timed = (record: Readonly<Record<string, unknown>>): Record<string, unknown> => ({
    ...record,
    hold_until: holdUntil(record, stampMs, deciding.holdMinutes),
  });
  await insertNextVersions(client, [timed(plan.next)], stampMs);
  if (plan.fresh !== null) {
    const stamp = new Date(stampMs).toISOString();
    await insertFirstVersions(client, [{ ...timed(plan.fresh), stamp, version: 1 }]);
  }
  await publishHeldEarlier(client, plan.publish, stampMs);
  await followPanels(client, stampMs);
  await insertDecision(client, request, plan, stampMs);
  const submissionId = submissionOf(request.readingId);
  await markSetsChanged(client, [submissionId], stampMs);
  await settleIdentity(client, submissionId);
}

async function insertDecision(
  client: PoolClient,
  { envelope, decision, readingId }: DecisionRequest,
  plan: Plan,
  stampMs: number,
): Promise<void> {
  await client.query(
    `insert into decisions (reading_id, from_version, to_version, action, reason, reason_code,
                            decided_at, client_key, person_key, submission_id, new_reading_id)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
    [
      readingId,
      plan.next.version,
      Number(plan.next.version) + 1,
      decision.action,
      decision.reason,
      decision.reasonCode,
      new Date(stampMs).toISOString(),
      envelope.clientKey,
      envelope.personKey,
      envelope.submissionId,
      plan.fresh?.reading_id ?? null,
    ],
  );
}

/** A set none of whose readings is held for identity any more need not be judged again for it. */
export async function settleIdentity(client: PoolClient, submissionId: string): Promise<void> {
  const { first, last } = readingIdRange(submissionId);
  await client.query(
    `update submissions set identity_doubted_stamp = null
      where submission_id = $1 and identity_doubted_stamp is not null and not exists (
        select from readings where reading_id between $2 and $3
           and superseded is null and hold = 'identity')`,
    [submissionId, first, last],
  );
}
