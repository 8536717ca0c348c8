/** Decisions after which a reading is judged again: corrected, or whose it is was settled. */
import type { PoolClient } from 'pg';
import { followingValues } from '../vitals/derived-values.js';
import type {
  ClaimedPatient,
  DerivedValues,
  Moment,
  Reading,
  RegisteredPatient,
  SourceFacts,
} from '../vitals/shapes.js';
import type { Position } from '../vitals/words.js';
import { decidedColumns, identityFindings, settledStatus } from './decided-columns.js';
import type { RecordOfReading } from './decided-columns.js';
import { refuse } from './decision-plans.js';
import type { Plan, PlanRefusal, Planning } from './decision-plans.js';
import { judgeAgain } from './judge-again.js';
import type { JudgedAgain } from './judge-again.js';
import { readReading, readRegister } from './judging-facts.js';
import type { PatientName } from './names.js';
import { changeOf, clearedColumns } from './reading-changes.js';
import { indexOf, readingId, receivedAtMsOf } from './reading-rows.js';

type JudgedEffect = 'publish' | 'judge' | 'correct' | 'assign';

/** Judges the reading as the decision would have it, and works out the rows. */
export async function planJudged(
  planning: Planning,
  effect: JudgedEffect,
): Promise<Plan | PlanRefusal> {
  const { client, record, target } = planning;
  const doubted = isDoubted(planning, effect);
  if (record.verdict === 'rejected') {
    const lacking = lackingInCorrection(planning, doubted);
    if (lacking !== null) return refuse(409, lacking);
  }
  const own = {
    patientKey: Number(record.patient_key),
    identifierKey: Number(record.identifier_key),
  };
  const patient = target ?? own;
  const register =
    (await readRegister(client, [patient.patientKey])).get(patient.patientKey) ?? null;
  if (register === null && !doubted) return unregistered(target);
  const again = await judge(planning, patient, register, doubted);
  if (again.judged.verdict === 'rejected') {
    return refuse(422, 'The rules reject the corrected reading.', again.judged.findings);
  }
  if (again.judged.hold === 'identity') {
    return refuse(
      422,
      'What the decision says about the patient does not agree with the register.',
      again.judged.findings,
    );
  }
  const moved = patient.patientKey !== own.patientKey;
  if (moved && record.status !== null) return planAnew(planning, again, patient);
  return planInPlace(planning, effect, again, moved ? patient : own, doubted);
}

/** Whether nobody has said yet whose reading it is: who releases it or names the patient does. */
function isDoubted({ record, target }: Planning, effect: JudgedEffect): boolean {
  if (target !== null || effect === 'publish') return false;
  if (record.verdict === 'rejected') return identityFindings(record).length > 0;
  return record.hold === 'identity';
}

/** What a rejected reading is kept with is not what was sent: its faults cannot be found in it again. */
function lackingInCorrection({ request }: Planning, doubted: boolean): string | null {
  if (request.decision.reading === undefined) {
    return 'A rejected reading is corrected by the whole reading as it should have been.';
  }
  return doubted
    ? 'It is in doubt whose reading this is: name the patient with the correction.'
    : null;
}

function unregistered(target: PatientName | null): PlanRefusal {
  return target === null
    ? refuse(
        409,
        'The patient is not registered: assign the reading to a registered patient instead.',
      )
    : refuse(422, 'The patient named is not registered.');
}

async function judge(
  planning: Planning,
  patient: PatientName,
  register: RegisteredPatient | null,
  doubted: boolean,
): Promise<JudgedAgain> {
  const { client, deciding, edition, request, record } = planning;
  return judgeAgain(client, deciding, {
    readingId: request.readingId,
    setId: record.set_id as string | null,
    reading: await readingToJudge(planning),
    patient,
    register: doubted ? null : register,
    doubted,
    claim: claimToCheck(planning),
    // What arrived late arrived late; that it is corrected later does not make it so.
    receivedAtMs: receivedAtMsOf((record.replaces as string | null) ?? request.readingId),
    edition,
    source: await readSource(client, record),
  });
}

/**
 * What the decision says of the patient, where it must agree with the register: a sender is held to
 * it always, an analyst where a second identifier was given, so that a slip in the first is noticed.
 */
function claimToCheck({ request, target }: Planning): ClaimedPatient | null {
  const { patient } = request.decision;
  if (target === null || patient === undefined) return null;
  const twofold = patient.birthDate !== undefined || patient.familyName !== undefined;
  return twofold || request.ownSourceKey !== null ? patient : null;
}

async function readSource(client: PoolClient, record: RecordOfReading): Promise<SourceFacts> {
  const { rows } = await client.query<{
    attended: boolean;
    required: boolean;
    synchronised: boolean;
  }>(
    `select attended, second_identifier_required as required, synchronised
       from sources where source_key = $1`,
    [record.source_key],
  );
  return {
    attended: rows[0]?.attended ?? false,
    secondIdentifierRequired: rows[0]?.required ?? false,
    synchronised: rows[0]?.synchronised ?? false,
  };
}

async function readingToJudge({ client, deciding, request, record }: Planning): Promise<Reading> {
  const given = request.decision.reading;
  if (given !== undefined) {
    return deciding.normaliseReading(given, indexOf(request.readingId), {
      takenAt: momentOf(record),
      position: record.position as Position | null,
    });
  }
  const kept = await readReading(client, request.readingId, deciding.unitOf);
  if (kept === null) throw new Error('a locked reading is gone');
  return kept;
}

function momentOf(record: RecordOfReading): Moment {
  return {
    epochMs: Date.parse(String(record.effective_at)),
    offsetMinutes: Number(record.offset_minutes),
  };
}

function columnsOf(planning: Planning, again: JudgedAgain, effect: JudgedEffect): RecordOfReading {
  const { names, edition, request, record } = planning;
  // A device that the decision does not name may be one that this process has not met yet.
  const given = request.decision.reading;
  const deviceKey =
    given === undefined
      ? (record.device_key as number | null)
      : names.device(again.judged.reading.device);
  const facts = { edition: edition.number, deviceKey };
  return clearedColumns(decidedColumns(again.judged, record, request, effect, facts));
}

/** A published reading of another patient: withdrawn here, published anew there. */
function planAnew(planning: Planning, again: JudgedAgain, patient: PatientName): Plan {
  const { request, record } = planning;
  const fresh = {
    ...record,
    ...columnsOf(planning, again, 'judge'),
    patient_key: patient.patientKey,
    identifier_key: patient.identifierKey,
    encounter_key: null,
    reading_id: readingId(request.envelope.submissionId, 0),
    replaces: request.readingId,
  };
  const next = { ...record, status: 'entered-in-error', hold: null };
  return { kind: 'plan', next, fresh, publish: again.publish };
}

async function planInPlace(
  planning: Planning,
  effect: JudgedEffect,
  again: JudgedAgain,
  patient: PatientName,
  doubted: boolean,
): Promise<Plan | PlanRefusal> {
  const { client, record } = planning;
  const next: RecordOfReading = {
    ...record,
    ...columnsOf(planning, again, effect),
    patient_key: patient.patientKey,
    identifier_key: patient.identifierKey,
    encounter_key: patient.patientKey === record.patient_key ? record.encounter_key : null,
  };
  if (record.status !== null) {
    // What was calculated from it is out as well, and must not outlast what it came from.
    next.derived = followingValues(derivedOf(record), derivedOf(next));
  }
  if (doubted) {
    // Corrected, but still nobody's: only an assignment or the register can settle that.
    Object.assign(next, { verdict: 'held', hold: 'identity', status: null });
    next.findings = [...identityFindings(record), ...again.judged.findings];
  }
  if (effect === 'correct') {
    const change = changeOf(record, next);
    if (change === null) return refuse(409, 'The correction changes nothing.');
    if (record.status !== 'cancelled' || (await wasFinal(client, record))) next.status = change;
    if (settledStatus(next.absent) === 'cancelled') next.status = 'cancelled';
  }
  return { kind: 'plan', next, fresh: null, publish: again.publish };
}

function derivedOf(record: RecordOfReading): DerivedValues | null {
  return record.derived as DerivedValues | null;
}

/** What was first told as not measured is, once there is a value, no correction of a final one. */
async function wasFinal(client: PoolClient, record: RecordOfReading): Promise<boolean> {
  const { rows } = await client.query<{ was: boolean }>(
    `select exists (select from readings where reading_id = $1
                       and status in ('final', 'amended', 'corrected')) as was`,
    [record.reading_id],
  );
  return rows[0]?.was ?? false;
}
