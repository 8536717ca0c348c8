/** What a later message says of an earlier reading: corrected, withdrawn, final now. */
import { partEnvelope } from '../envelope.js';
import type { Amendment } from '../intake/hl7v2/delivery.js';
import type { Stages } from '../judging.js';
import { decideReading } from '../store/decide-reading.js';
import { findAssociatedPatients } from '../store/device-facts.js';
import { findAmended } from '../store/find-amended.js';
import type { AmendedReading } from '../store/find-amended.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { Envelope } from '../store/submission-records.js';
import type { Decision, DecisionAction } from '../vitals/decisions.js';
import type { DeliveredSet, Identifier } from '../vitals/shapes.js';

export interface AmendingServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
}

/** An amendment and the reading that it speaks of. */
export interface FoundAmendment {
  readonly amendment: Amendment;
  readonly kept: AmendedReading;
}

/** Amendments whose reading is known, and what becomes of the others. */
export interface SortedAmendments {
  readonly found: readonly FoundAmendment[];
  /** Corrections of what was never seen are readings of their own; the rest is told to the analyst. */
  readonly sets: readonly DeliveredSet[];
}

/** Finds out which kept reading each amendment speaks of. */
export async function sortAmendments(
  pool: Pool,
  sourceKey: number,
  amendments: readonly Amendment[],
): Promise<SortedAmendments> {
  const found: FoundAmendment[] = [];
  const sets: DeliveredSet[] = [];
  for (const amendment of amendments) {
    const kept = await findKept(pool, sourceKey, amendment);
    if (kept === null) sets.push(setOfUnknown(amendment));
    else found.push({ amendment, kept });
  }
  return { found, sets };
}

async function findKept(
  pool: Pool,
  sourceKey: number,
  { patient, reading }: Amendment,
): Promise<AmendedReading | null> {
  if (reading.takenAt === undefined) return null;
  const device = reading.device?.identifier ?? null;
  const takenAtMs = Date.parse(reading.takenAt);
  for (const identifier of await whose(pool, patient, device, takenAtMs)) {
    const { vital, method = null } = reading;
    const question = { sourceKey, patient: identifier, vital, method, device, takenAtMs };
    const kept = await findAmended(pool, question);
    if (kept !== null) return kept;
  }
  return null;
}

async function whose(
  pool: Pool,
  patient: Amendment['patient'],
  device: Identifier | null,
  atMs: number,
): Promise<readonly Identifier[]> {
  if (patient !== null) return [patient.identifier, ...(patient.others ?? [])];
  if (device === null) return [];
  const [identifier] = await findAssociatedPatients(pool, [{ device, atMs }]);
  return identifier === null || identifier === undefined ? [] : [identifier];
}

function setOfUnknown({ kind, reading, patient, ...rest }: Amendment): DeliveredSet {
  const { encounter, recorder } = rest;
  const about = {
    patient,
    takenAt: null,
    ...(encounter !== undefined && { encounter }),
    ...(recorder !== undefined && { recorder }),
  };
  if (kind === 'correct') {
    const report = { at: '', ...reading.report };
    const doubts = [...(report.doubts ?? []), 'original-not-found'] as const;
    return { ...about, readings: [{ ...reading, report: { ...report, doubts } }] };
  }
  const row = {
    index: reading.index ?? 0,
    at: reading.report?.at ?? '',
    reason: 'original-not-found',
    message:
      kind === 'withdraw'
        ? 'The message withdraws a reading that this source has not sent, or not so that it can be told from others.'
        : 'The message says that a reading is final that this source has not sent, or not so that it can be told from others.',
  } as const;
  return { ...about, readings: [], unread: [row] };
}

/** Carries them out, each as a decision of the source; the message itself must be on disk. */
export async function applyAmendments(
  { pool, names, stages }: AmendingServices,
  whole: Envelope,
  found: readonly FoundAmendment[],
): Promise<void> {
  for (const { amendment, kept } of found) {
    const action = actionFor(amendment, kept);
    if (action === null) continue;
    const decision: Decision = {
      action,
      reason: REASONS[amendment.kind],
      reasonCode: 'other',
      expectedVersion: kept.version,
      ...(action === 'correct' && { reading: amendment.reading }),
    };
    const envelope: Envelope = { ...partEnvelope(whole), kind: 'decision' };
    const { readingId } = kept;
    const ownSourceKey = whole.sourceKey;
    await decideReading(pool, names, stages, { envelope, readingId, decision, ownSourceKey });
  }
}

const REASONS: Readonly<Record<Amendment['kind'], string>> = {
  correct: 'The source corrected it by a later message (OBX-11 C).',
  withdraw: 'The source withdrew it by a later message (OBX-11 D or W).',
  finalise: 'The source says that it is final (OBX-11 U).',
};

/** Null: nothing is to be done, or only a person may do it. */
function actionFor(
  { kind }: Amendment,
  { verdict, hold, status }: AmendedReading,
): DecisionAction | null {
  if (kind === 'correct') return 'correct';
  if (kind === 'withdraw') {
    if (verdict === 'rejected') return null;
    return hold === null ? 'withdraw' : 'reject';
  }
  return hold === null && status === 'preliminary' ? 'release' : null;
}
