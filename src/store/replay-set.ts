/** A kept message read again under a new mapping: what was rejected or unread for want of it is judged anew. */
import type { Pool } from 'pg';
import type { JudgedSet, JudgingFacts, Measured, Reading } from '../vitals/shapes.js';
import type { Part, Verdict, Vital } from '../vitals/words.js';
import { insertAudit } from './audit.js';
import type { Judging } from './commit-sets.js';
import { readDeviceFacts } from './device-facts.js';
import type { Edition } from './edition-shelf.js';
import { readKnownEncounters } from './encounter-claims.js';
import { readRegister, windowOf } from './judging-facts.js';
import { takeLocks } from './locks.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { readOtherReadings } from './other-readings.js';
import { writeReplay } from './replay-writes.js';
import type { KeptPart, ReplayRequest, Replaying } from './replaying.js';
import { indexOf, readingId, readingIdRange } from './reading-rows.js';
import { deliveredSet } from './submission-records.js';
import { inTransaction } from './transaction.js';

/** A reading that a replay made or judged anew, or would. */
export interface ReplayedReading {
  readonly readingId: string;
  readonly index: number;
  readonly vital: Vital;
  /** In the unit of the sign; empty: coded, absent or at fault. */
  readonly values: Readonly<Partial<Record<Part, Measured>>>;
  readonly verdict: Verdict;
  /** Rules that spoke about it. */
  readonly rules: readonly string[];
  readonly published: boolean;
  /** Nobody could read it before; else it had been rejected. */
  readonly isNew: boolean;
}

/** Null: there is no such set out of a message. Readings that stand are never touched. */
export async function replaySet(
  pool: Pool,
  names: Names,
  judging: Judging,
  request: ReplayRequest,
): Promise<ReplayedReading[] | null> {
  const part = await findPart(pool, request.submissionId);
  if (part === null) return null;
  const kept = deliveredSet(part.delivered);
  await names.learnDevices(
    request.readings.flatMap(({ device }) => (device === null ? [] : [device])),
  );
  if (kept.recorder !== null) await names.learnPeople([kept.recorder]);
  if (kept.location !== null) await names.learnPlaces([kept.location]);
  await names.relearnPatients([kept.patient.identifier]);
  return inTransaction(pool, async (client) => {
    await takeLocks(client, {
      patientKeys: [part.patient_key],
      encounters: kept.encounter === null ? [] : [nameOf(kept.encounter)],
    });
    return replayInside({ client, names, judging, request, part, kept });
  });
}

async function findPart(pool: Pool, submissionId: string): Promise<KeptPart | null> {
  const { rows } = await pool.query<KeptPart>(
    `select s.submission_id, s.set_id, s.source_key, s.patient_key, s.delivered, c.attended,
            c.second_identifier_required, c.synchronised,
            floor(extract(epoch from s.received_at) * 1000)::bigint::text as received_ms
       from submissions s join sources c on c.source_key = s.source_key
      where s.submission_id = $1 and s.delivered is not null and s.patient_key is not null`,
    [submissionId],
  );
  return rows[0] ?? null;
}

async function replayInside(replaying: Replaying): Promise<ReplayedReading[]> {
  const { request, part } = replaying;
  const rejected = await rejectedReadings(replaying);
  const unread = await unreadPlaces(replaying);
  const readings = request.readings.filter(({ index }) => rejected.has(index) || unread.has(index));
  const judged = readings.length === 0 ? null : await judge(replaying, readings);
  // What stays rejected stays as it was.
  const changed = (judged?.readings ?? []).filter(
    ({ reading, verdict }) => unread.has(reading.index) || verdict !== 'rejected',
  );
  if (request.mode === 'keep') {
    await audit(replaying, changed.length);
    if (judged !== null && changed.length > 0) {
      await writeReplay(replaying, judged, changed, [...rejected.values()]);
    }
  }
  return changed.map(({ reading, verdict, status, findings }) => ({
    readingId: readingId(part.submission_id, reading.index),
    index: reading.index,
    vital: reading.vital,
    values: reading.values,
    verdict,
    rules: findings.map(({ rule }) => rule),
    published: status !== null,
    isNew: unread.has(reading.index),
  }));
}

function audit({ client, request, part }: Replaying, readings: number): Promise<void> {
  const { clientKey, personKey, origin } = request;
  const entity = `submissions/${part.submission_id}`;
  const what = { action: 'submission-replayed', outcome: 200, entity, detail: { readings } };
  const patientKey = part.patient_key;
  return insertAudit(client, [{ clientKey, personKey, patientKey, origin, ...what }]);
}

/** By place. What a person has decided about is that person's. */
async function rejectedReadings({ client, part }: Replaying): Promise<Map<number, string>> {
  const { first, last } = readingIdRange(part.submission_id);
  const { rows } = await client.query<{ reading_id: string }>(
    `select r.reading_id from readings r
      where r.reading_id between $1 and $2 and r.superseded is null and r.verdict = 'rejected'
        and not exists (select from decisions d where d.reading_id = r.reading_id)`,
    [first, last],
  );
  return new Map(rows.map((row) => [indexOf(row.reading_id), row.reading_id]));
}

async function unreadPlaces({ client, part }: Replaying): Promise<Set<number>> {
  const { rows } = await client.query<{ place: number }>(
    'select place from unread_rows where submission_id = $1 and read_at is null',
    [part.submission_id],
  );
  return new Set(rows.map((row) => row.place));
}

/** By the edition in force now: it is the one that the replay names. */
async function judge(replaying: Replaying, readings: readonly Reading[]): Promise<JudgedSet> {
  const { client, judging, request } = replaying;
  const edition = (await judging.editions.inForce(client))(request.nowMs);
  return judging.judge(await readFacts(replaying, edition, readings), edition);
}

async function readFacts(
  { client, names, judging, part, kept }: Replaying,
  { limits }: Edition,
  readings: readonly Reading[],
): Promise<JudgingFacts> {
  const { patient_key: patientKey } = part;
  const { encounter } = kept;
  const visits = encounter === null ? [] : [{ encounter, patientKey }];
  const encounters = await readKnownEncounters(client, names, visits);
  const visit = encounter === null ? undefined : encounters.get(nameOf(encounter));
  const receivedAtMs = Number(part.received_ms);
  const devices = readings.flatMap(({ device }) => (device === null ? [] : [device]));
  const question = { devices, ...windowOf(patientKey, readings, 0), receivedAtMs };
  return {
    set: { ...kept, readings },
    receivedAtMs,
    patient: (await readRegister(client, [patientKey])).get(patientKey) ?? null,
    encounterOfAnother: visit !== undefined && visit.patientKey !== patientKey,
    source: {
      attended: part.attended,
      secondIdentifierRequired: part.second_identifier_required,
      synchronised: part.synchronised,
    },
    devices: (await readDeviceFacts(client, names, [question]))[0] ?? [],
    ...(await readOtherReadings(client, patientKey, readings, limits, judging.unitOf)),
  };
}
