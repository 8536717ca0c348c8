/**
 * Whose a device is, and from when to when. A device is one patient's at a time: whoever changes that
 * holds the device's lock, and the database refuses a second one without an end.
 */
import type { ClientBase, Pool } from 'pg';
import { canonicalDevice } from '../vitals/device-identifier.js';
import type { ClaimedPatient, Identifier, RegisteredPatient } from '../vitals/shapes.js';
import {
  auditAssociation,
  readDevice,
  readLastSpan,
  readSpan,
  readSpansAfter,
  setEnd,
  toSpan,
} from './association-rows.js';
import type {
  AssociationOrigin,
  AssociationSpan,
  AuditedAssociation,
  SpanRow,
} from './association-rows.js';
import type { Actor } from './editions.js';
import { readNamedRegister } from './judging-facts.js';
import { takeLocks } from './locks.js';
import type { Names, PatientName } from './names.js';
import { timeText } from './sql-values.js';
import { inTransaction } from './transaction.js';
import { uuid7 } from './uuid7.js';

export interface AssociationRequest {
  readonly device: Identifier;
  /** By an identifier, and a second one that must agree with the register. */
  readonly patient: ClaimedPatient;
  readonly fromMs: number;
  readonly by: AssociationOrigin;
  readonly nowMs: number;
}

/** Whether what is said of a patient agrees with the register; `unknown`: one of them says nothing. */
export type CompareIdentity = (
  claimed: ClaimedPatient,
  registered: RegisteredPatient,
) => 'agrees' | 'differs' | 'unknown';

export type AssociationOutcome =
  /** `unchanged`: it was that patient's then already. */
  | { readonly outcome: 'associated' | 'unchanged'; readonly association: AssociationSpan }
  /** Somebody else's from that very moment, or through it up to a known end. */
  | { readonly outcome: 'taken'; readonly association: AssociationSpan }
  | {
      readonly outcome:
        | 'device-disabled'
        | 'patient-unknown'
        | 'second-identifier-missing'
        | 'second-identifier-differs';
    };

/**
 * Makes a device a patient's from a time on. What it was before ends then; what is known to begin later
 * stays, and this one ends there.
 */
export async function associate(
  pool: Pool,
  names: Names,
  compare: CompareIdentity,
  request: AssociationRequest,
): Promise<AssociationOutcome> {
  const deviceKey = await learnDevice(names, request.device);
  let outcome: AssociationOutcome | null = null;
  while (outcome === null) {
    const patient = await findPatientName(pool, request.patient.identifier);
    if (patient === null) return { outcome: 'patient-unknown' };
    outcome = await inTransaction(pool, (client) =>
      associateIn(client, deviceKey, compare, request, patient),
    );
  }
  return outcome;
}

/** Null: the patient was merged before the locks were held, and they are the wrong ones. */
async function associateIn(
  client: ClientBase,
  deviceKey: number,
  compare: CompareIdentity,
  request: AssociationRequest,
  { patientKey, identifierKey }: PatientName,
): Promise<AssociationOutcome | null> {
  await takeLocks(client, { patientKeys: [patientKey], deviceKeys: [deviceKey] });
  const { register, patientKeyOf } = await readNamedRegister(client, [identifierKey]);
  if (patientKeyOf.get(identifierKey) !== patientKey) return null;
  const device = await readDevice(client, deviceKey);
  if (device.disabled === true) return { outcome: 'device-disabled' };
  const registered = register.get(patientKey);
  if (registered === undefined) return { outcome: 'patient-unknown' };
  const comparison = compare(request.patient, registered);
  if (comparison === 'unknown') return { outcome: 'second-identifier-missing' };
  if (comparison === 'differs') return { outcome: 'second-identifier-differs' };

  const place = { deviceKey, deviceId: device.device_id, patientKey, identifierKey };
  return fitIn(client, place, request);
}

interface Place extends PatientName {
  readonly deviceKey: number;
  readonly deviceId: string;
}

/** Among what is known of the device's past and future, whose end and start it respects. */
async function fitIn(
  client: ClientBase,
  place: Place,
  request: AssociationRequest,
): Promise<AssociationOutcome> {
  const { fromMs } = request;
  const spans = await readSpansAfter(client, place.deviceKey, fromMs);
  const covering = spans.find((span) => span.from_at.getTime() <= fromMs);
  if (covering?.patient_key === place.patientKey) {
    return { outcome: 'unchanged', association: toSpan(covering) };
  }
  if (covering !== undefined) {
    if (covering.to_at !== null || covering.from_at.getTime() === fromMs) {
      return { outcome: 'taken', association: toSpan(covering) };
    }
    await setEnd(client, covering, fromMs, 'next-association');
  }
  const next = spans.find((span) => span.from_at.getTime() > fromMs);
  const association = {
    associationId: uuid7(request.nowMs),
    fromMs,
    toMs: next?.from_at.getTime() ?? null,
  };
  await insertAssociation(client, place, association, request);
  return { outcome: 'associated', association };
}

async function insertAssociation(
  client: ClientBase,
  { deviceKey, deviceId, patientKey, identifierKey }: Place,
  { associationId, fromMs, toMs }: AssociationSpan,
  { by, nowMs }: AssociationRequest,
): Promise<void> {
  await client.query(
    `insert into associations (association_id, device_key, patient_key, identifier_key, from_at, to_at,
                               origin, ended_by, submission_id, client_key, recorded_at)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
    [
      ...[associationId, deviceKey, patientKey, identifierKey],
      timeText(fromMs),
      toMs === null ? null : timeText(toMs),
      by.origin,
      toMs === null ? null : 'next-association',
      by.origin === 'message' ? by.submissionId : null,
      by.origin === 'admin' ? by.actor.clientKey : null,
      timeText(nowMs),
    ],
  );
  const made = { deviceId, associationId, patientKey };
  await auditAssociation(client, by, 'device-associate', made);
}

export interface DisassociationRequest {
  readonly device: Identifier;
  /** Null: whoever it is. */
  readonly patient: Identifier | null;
  readonly atMs: number;
  readonly by: AssociationOrigin;
}

export type DisassociationOutcome =
  /** `unchanged`: it had ended by then already. */
  | { readonly outcome: 'disassociated' | 'unchanged'; readonly association: AssociationSpan }
  | { readonly outcome: 'not-associated' | 'another-patient' };

/**
 * Ends whose a device is at a time. An end that was known later than that moves back to it: after a
 * disassociation nothing is filed.
 */
export async function disassociate(
  pool: Pool,
  names: Names,
  request: DisassociationRequest,
): Promise<DisassociationOutcome> {
  const deviceKey = await learnDevice(names, request.device);
  return inTransaction(pool, async (client) => {
    await takeLocks(client, { deviceKeys: [deviceKey] });
    const span = await readLastSpan(client, deviceKey, request.atMs, request.patient);
    const isMeant = request.patient === null || span?.is_meant === true;
    if (span === null) return { outcome: 'not-associated' };
    if (span.to_at !== null && span.to_at.getTime() <= request.atMs) {
      return isMeant
        ? { outcome: 'unchanged', association: toSpan(span) }
        : { outcome: 'not-associated' };
    }
    if (!isMeant) return { outcome: 'another-patient' };
    const { device_id: deviceId } = await readDevice(client, deviceKey);
    await setEnd(client, span, request.atMs, 'disassociation');
    const ended = endedOf(deviceId, span);
    await auditAssociation(client, request.by, 'device-disassociate', ended);
    return {
      outcome: 'disassociated',
      association: { ...toSpan(span), toMs: request.atMs },
    };
  });
}

function endedOf(
  deviceId: string,
  { association_id: associationId, patient_key: patientKey }: SpanRow,
): AuditedAssociation {
  return { deviceId, associationId, patientKey };
}

export interface EndRequest {
  readonly deviceId: string;
  readonly associationId: string;
  readonly atMs: number;
  readonly actor: Actor;
}

export type EndOutcome =
  | { readonly outcome: 'ended' | 'unchanged'; readonly association: AssociationSpan }
  /** It ended before that time, or begins after it: an end only ever moves back. */
  | { readonly outcome: 'ended-before' | 'before-start'; readonly association: AssociationSpan }
  | { readonly outcome: 'unknown' };

/** Ends one association, or moves its end back. Ended at its own start, it never held. */
export async function endAssociation(pool: Pool, request: EndRequest): Promise<EndOutcome> {
  const { rows } = await pool.query<{ device_key: number }>(
    `select a.device_key from associations a join devices d using (device_key)
      where a.association_id = $1 and d.device_id = $2`,
    [request.associationId, request.deviceId],
  );
  const deviceKey = rows[0]?.device_key;
  if (deviceKey === undefined) return { outcome: 'unknown' };
  return inTransaction(pool, async (client) => {
    await takeLocks(client, { deviceKeys: [deviceKey] });
    const span = await readSpan(client, request.associationId);
    const { fromMs, toMs } = toSpan(span);
    if (request.atMs < fromMs) return { outcome: 'before-start', association: toSpan(span) };
    if (toMs === request.atMs) return { outcome: 'unchanged', association: toSpan(span) };
    if (toMs !== null && toMs < request.atMs) {
      return { outcome: 'ended-before', association: toSpan(span) };
    }
    const by = { origin: 'admin', actor: request.actor } as const;
    await setEnd(client, span, request.atMs, 'admin');
    const ended = endedOf(request.deviceId, span);
    await auditAssociation(client, by, 'device-disassociate', ended);
    return { outcome: 'ended', association: { ...toSpan(span), toMs: request.atMs } };
  });
}

async function findPatientName(
  pool: Pool,
  { system, value }: Identifier,
): Promise<PatientName | null> {
  const { rows } = await pool.query<{ patient_key: number; identifier_key: number }>(
    'select patient_key, identifier_key from patient_identifiers where system = $1 and value = $2',
    [system, value],
  );
  const row = rows[0];
  return row === undefined
    ? null
    : { patientKey: row.patient_key, identifierKey: row.identifier_key };
}

async function learnDevice(names: Names, named: Identifier): Promise<number> {
  const device = canonicalDevice(named);
  await names.learnDevices([device]);
  const key = names.device(device);
  if (key === null) throw new Error('a device was not learnt');
  return key;
}
