/** Sets held for their patient's identity, judged again when the register has changed. */
import type { Pool, PoolClient } from 'pg';
import type {
  DeviceFacts,
  Finding,
  JudgingFacts,
  NormalisedSet,
  Reading,
} from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import type { Judging } from './commit-sets.js';
import { settleIdentity } from './decide-reading.js';
import { readDeviceFacts } from './device-facts.js';
import type { Edition } from './edition-shelf.js';
import { claimEncounters, readKnownEncounters } from './encounter-claims.js';
import type { KnownEncounters } from './encounter-claims.js';
import { followPanels } from './follow-panels.js';
import { readReading, readRegister, windowOf } from './judging-facts.js';
import { takeLocks } from './locks.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { readOtherReadings } from './other-readings.js';
import { takeStamp } from './publication-clock.js';
import { publicationCauses, publishHeldEarlier } from './publish-held.js';
import {
  holdUntil,
  insertNextVersions,
  judgedColumns,
  loadRecords,
  markSetsChanged,
} from './reading-records.js';
import { indexOf, readingIdRange } from './reading-rows.js';
import { rereadSet } from './reread-set.js';
import type { ReadAgain } from './reread-set.js';
import { inTransaction } from './transaction.js';

/** What judging stored bytes again needs beyond judging. */
export interface Rereading extends Judging, ReadAgain {
  /** How long an unknown patient's set waits for a registration, in ms. */
  readonly registrationWaitMs: number;
  /** The rule that held a set for an unregistered patient. */
  readonly unknownPatientRule: string;
}

/** Sets whose patient's registration changed after they were last found in doubt. */
export async function findSetsToRejudge(pool: Pool): Promise<string[]> {
  const { rows } = await pool.query<{ submission_id: string }>(
    `select s.submission_id
       from submissions s
       join patient_versions v on v.patient_key = s.patient_key and v.superseded is null
      where s.identity_doubted_stamp is not null and v.stamp > s.identity_doubted_stamp
      order by s.received_at limit 500`,
  );
  return rows.map((row) => row.submission_id);
}

interface DoubtedSet {
  submission_id: string;
  patient_key: number;
  received_ms: string;
  edition: number;
  late: boolean;
  body: Buffer;
  content_type: string;
  delivered: Buffer | null;
  attended: boolean;
  second_identifier_required: boolean;
  synchronised: boolean;
}

/** Judges one such set again; readings whose identity is settled go on as if they had just come. */
export async function rejudgeSet(
  pool: Pool,
  names: Names,
  judging: Rereading,
  submissionId: string,
): Promise<void> {
  const { rows } = await pool.query<DoubtedSet>(
    `select s.submission_id, s.patient_key, s.body, s.content_type, s.delivered, s.edition, c.attended,
            c.second_identifier_required, c.synchronised,
            clock_timestamp() - s.received_at > $2 * interval '1 ms' as late,
            floor(extract(epoch from s.received_at) * 1000)::bigint::text as received_ms
       from submissions s join sources c on c.source_key = s.source_key
      where s.submission_id = $1 and s.identity_doubted_stamp is not null`,
    [submissionId, judging.registrationWaitMs],
  );
  const doubted = rows[0];
  if (doubted === undefined) return;
  const set = rereadSet(judging, doubted);
  await inTransaction(pool, async (client) => {
    await takeLocks(client, {
      patientKeys: [doubted.patient_key],
      encounters: set.encounter === null ? [] : [nameOf(set.encounter)],
    });
    await rejudgeInside(client, names, judging, doubted, set);
  });
}

async function rejudgeInside(
  client: PoolClient,
  names: Names,
  judging: Rereading,
  doubted: DoubtedSet,
  set: NormalisedSet,
): Promise<void> {
  const records = await loadRecords(client, await heldForIdentity(client, doubted.submission_id));
  const settled =
    doubted.late && heldAsUnknown(records, judging)
      ? { records: [], causes: new Map<string, Finding>() }
      : await judgeRecords(client, names, judging, doubted, set, records);
  const stampMs = await takeStamp(client);
  await client.query(
    'update submissions set identity_doubted_stamp = $2 where submission_id = $1',
    [doubted.submission_id, new Date(stampMs).toISOString()],
  );
  await settleRecords(client, judging, doubted.submission_id, settled, stampMs);
  await settleIdentity(client, doubted.submission_id);
}

/** Records whose identity is settled, and what else they send out. */
interface Settled {
  readonly records: readonly Record<string, unknown>[];
  readonly causes: ReadonlyMap<string, Finding>;
}

async function settleRecords(
  client: PoolClient,
  judging: Rereading,
  submissionId: string,
  settled: Settled,
  stampMs: number,
): Promise<void> {
  if (settled.records.length === 0) return;
  const next = settled.records.map((record) => ({
    ...record,
    hold_until: holdUntil(record, stampMs, judging.holdMinutes),
  }));
  await insertNextVersions(client, next, stampMs);
  await publishHeldEarlier(client, settled.causes, stampMs);
  await followPanels(client, stampMs);
  await markSetsChanged(client, [submissionId], stampMs);
  await insertAudit(client, [
    {
      clientKey: null,
      action: 'identity-settled',
      outcome: 200,
      entity: `submissions/${submissionId}`,
    },
  ]);
}

async function heldForIdentity(client: PoolClient, submissionId: string): Promise<string[]> {
  const { first, last } = readingIdRange(submissionId);
  const { rows } = await client.query<{ reading_id: string }>(
    `select reading_id from readings
      where reading_id between $1 and $2 and superseded is null and hold = 'identity'`,
    [first, last],
  );
  return rows.map((row) => row.reading_id);
}

/** A registration long after the set proves little about it: a person must name the patient then. */
function heldAsUnknown(records: readonly Record<string, unknown>[], judging: Rereading): boolean {
  return records.some((record) =>
    ((record.findings ?? []) as Finding[]).some(
      (finding) => finding.rule === judging.unknownPatientRule,
    ),
  );
}

async function judgeRecords(
  client: PoolClient,
  names: Names,
  judging: Rereading,
  doubted: DoubtedSet,
  set: NormalisedSet,
  records: readonly Record<string, unknown>[],
): Promise<Settled> {
  const byIndex = new Map(records.map((record) => [indexOf(String(record.reading_id)), record]));
  const readings = await readingsOf(client, judging, set, byIndex);
  if (readings.length === 0) return { records: [], causes: new Map() };
  const encounters = await readKnownEncounters(
    client,
    names,
    set.encounter === null ? [] : [{ encounter: set.encounter, patientKey: doubted.patient_key }],
  );
  // By the edition of its receipt: what came late is the register, not the set.
  const edition = await judging.editions.numbered(client, doubted.edition);
  const sent = { ...set, readings };
  const devices = await readDevices(client, names, doubted, sent);
  const facts = {
    ...(await factsOf(client, judging, edition, doubted, sent, encounters)),
    devices,
  };
  const judged = judging.judge(facts, edition);
  const next: Record<string, unknown>[] = [];
  for (const one of judged.readings) {
    const record = byIndex.get(one.reading.index);
    if (record === undefined || one.hold === 'identity') continue;
    const columns = judgedColumns(one, judged.edition, names.device(one.reading.device));
    const blank = { hold: null, status: null, findings: null };
    const { device_key } = record;
    next.push({ ...record, ...blank, ...columns, device_key });
  }
  if (set.encounter !== null && next.length > 0) {
    const { patient_key: patientKey } = doubted;
    const naming = { encounter: set.encounter, patientKey, identified: true, records: next };
    await claimEncounters(client, encounters, [naming]);
  }
  return { records: next, causes: publicationCauses(judged) };
}

/** As they came, or as they were corrected while it was in doubt whose they are. */
async function readingsOf(
  client: PoolClient,
  judging: Rereading,
  set: NormalisedSet,
  byIndex: ReadonlyMap<number, Record<string, unknown>>,
): Promise<Reading[]> {
  const readings: Reading[] = [];
  for (const sent of set.readings) {
    const record = byIndex.get(sent.index);
    if (record === undefined) continue;
    const corrected =
      Number(record.version) === 1
        ? null
        : await readReading(client, String(record.reading_id), judging.unitOf);
    readings.push(corrected ?? sent);
  }
  return readings;
}

async function readDevices(
  client: PoolClient,
  names: Names,
  { patient_key: patientKey, received_ms: receivedMs }: DoubtedSet,
  { readings }: NormalisedSet,
): Promise<readonly DeviceFacts[]> {
  const devices = readings.flatMap(({ device }) => (device === null ? [] : [device]));
  await names.learnDevices(devices);
  const receivedAtMs = Number(receivedMs);
  const question = { devices, ...windowOf(patientKey, readings, 0), receivedAtMs };
  return (await readDeviceFacts(client, names, [question]))[0] ?? [];
}

async function factsOf(
  client: PoolClient,
  judging: Rereading,
  { limits }: Edition,
  doubted: DoubtedSet,
  set: NormalisedSet,
  encounters: KnownEncounters,
): Promise<JudgingFacts> {
  const patientKey = doubted.patient_key;
  const { readings } = set;
  const others = await readOtherReadings(client, patientKey, readings, limits, judging.unitOf);
  const encounter = set.encounter === null ? undefined : encounters.get(nameOf(set.encounter));
  return {
    set,
    receivedAtMs: Number(doubted.received_ms),
    patient: (await readRegister(client, [patientKey])).get(patientKey) ?? null,
    encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
    source: {
      attended: doubted.attended,
      secondIdentifierRequired: doubted.second_identifier_required,
      synchronised: doubted.synchronised,
    },
    ...others,
  };
}
