/** Versions of readings as they are written: records of the table `readings`. */
import type { ClientBase } from 'pg';
import type { Finding, JudgedReading, ReadingContext } from '../vitals/shapes.js';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';
import { packInterpretation } from './reading-rows.js';

export const READING_RECORD_COLUMNS: Columns = [
  ['patient_key', 'integer'],
  ['identifier_key', 'integer'],
  ['effective_at', 'timestamptz'],
  ['stamp', 'timestamptz'],
  ['reading_id', 'uuid'],
  ['set_id', 'uuid'],
  ['hold_until', 'timestamptz'],
  ['source_key', 'integer'],
  ['encounter_key', 'integer'],
  ['recorder_key', 'integer'],
  ['recorder_asserted', 'boolean'],
  ['device_key', 'integer'],
  ['place_key', 'integer'],
  ['vital', 'vital'],
  ['method', 'method'],
  ['site', 'site'],
  ['side', 'side'],
  ['position', 'body_position'],
  ['verdict', 'verdict'],
  ['hold', 'hold_kind'],
  ['critical', 'boolean'],
  ['status', 'observation_status'],
  ['version', 'smallint'],
  ['edition', 'smallint'],
  ['offset_minutes', 'smallint'],
  ['amount', 'numeric'],
  ['systolic', 'numeric'],
  ['diastolic', 'numeric'],
  ['mean', 'numeric'],
  ['code', 'text'],
  ['absent', 'text'],
  ['interpretation', 'text'],
  ['note', 'text'],
  ['entered', 'jsonb'],
  ['context', 'jsonb'],
  ['report', 'jsonb'],
  ['findings', 'jsonb'],
  ['replaces', 'uuid'],
  ['derived', 'jsonb'],
];

/** Where the readings of a set belong: everything of their records that does not come from reading or verdict. */
export interface SetPlace {
  readonly setId: string | null;
  readonly patientKey: number;
  readonly identifierKey: number;
  readonly sourceKey: number;
  readonly recorderKey: number | null;
  readonly recorderAsserted: boolean | null;
  readonly placeKey: number | null;
}

/** A finding as it is kept: without the wording meant for a check only. */
export function keptFinding(finding: Finding): Finding {
  if (finding.discreetMessage === undefined) return finding;
  const kept: { discreetMessage?: string } & Finding = { ...finding };
  delete kept.discreetMessage;
  return kept;
}

/** Of what was said about a reading, that which holds it. */
export function holdingFindings(findings: readonly Finding[]): readonly Finding[] {
  return findings.filter(({ hold }) => hold !== undefined);
}

/** Undefined for an empty object, so that the column stays null. */
function contextOrNull(context: ReadingContext): ReadingContext | undefined {
  for (const _ in context) return context;
  return undefined;
}

/** The columns that come from the reading itself and its verdict. */
export function judgedColumns(
  judged: JudgedReading,
  edition: number,
  deviceKey: number | null,
): Record<string, unknown> {
  const { reading } = judged;
  const { values } = reading;
  return {
    effective_at: new Date(reading.takenAt.epochMs).toISOString(),
    offset_minutes: reading.takenAt.offsetMinutes,
    vital: reading.vital,
    method: reading.method ?? undefined,
    site: reading.site ?? undefined,
    side: reading.side ?? undefined,
    position: reading.position ?? undefined,
    device_key: deviceKey ?? undefined,
    amount: values.value?.text,
    systolic: values.systolic?.text,
    diastolic: values.diastolic?.text,
    mean: values.mean?.text,
    code: reading.code ?? undefined,
    absent: reading.absent ?? undefined,
    note: reading.note ?? undefined,
    entered: reading.entered ?? undefined,
    context: contextOrNull(reading.context),
    report: reading.report,
    interpretation: packInterpretation(judged.interpretation) ?? undefined,
    verdict: judged.verdict,
    hold: judged.hold ?? undefined,
    critical: judged.critical || undefined,
    status: judged.status ?? undefined,
    findings: judged.findings.length === 0 ? undefined : judged.findings.map(keptFinding),
    derived: judged.derived ?? undefined,
    edition,
  };
}

/**
 * The record of a reading that was just judged. Members are set one by one on one form of object:
 * merging two objects a reading took a seventh of the gateway's time.
 */
export function firstRecord(
  readingId: string,
  place: SetPlace,
  judged: JudgedReading,
  edition: number,
  deviceKey: number | null,
): Record<string, unknown> {
  const record = judgedColumns(judged, edition, deviceKey);
  record.reading_id = readingId;
  record.version = 1;
  record.set_id = place.setId;
  record.patient_key = place.patientKey;
  record.identifier_key = place.identifierKey;
  record.source_key = place.sourceKey;
  record.recorder_key = place.recorderKey ?? undefined;
  record.recorder_asserted = place.recorderAsserted ?? undefined;
  record.place_key = place.placeKey ?? undefined;
  return record;
}

/** Minutes that a hold of each kind waits for a decision before it goes out as preliminary. */
export interface HoldMinutes {
  readonly value: number;
  readonly unit: number;
}

/** When an unpublished hold goes out by itself; null: published already, decided, or identity in doubt. */
export function holdUntil(
  record: TableRecord,
  stampMs: number,
  minutes: HoldMinutes,
): string | null {
  if (record.status !== undefined && record.status !== null) return null;
  if (record.hold !== 'value' && record.hold !== 'unit') return null;
  return new Date(stampMs + minutes[record.hold] * 60_000).toISOString();
}

/**
 * The newest versions of these readings as records that can be written again, locked against
 * other changes. JSON keeps every digit of a numeric.
 */
export async function loadRecords(
  client: ClientBase,
  readingIds: readonly string[],
): Promise<Record<string, unknown>[]> {
  const { rows } = await client.query<{ record: Record<string, unknown> }>({
    name: 'load-records',
    text: `select to_jsonb(r)
             || jsonb_build_object('amount', r.amount::text, 'systolic', r.systolic::text,
                                   'diastolic', r.diastolic::text, 'mean', r.mean::text) as record
             from readings r
            where r.reading_id = any($1::uuid[]) and r.superseded is null
            order by r.reading_id for update`,
    values: [readingIds],
  });
  return rows.map((row) => row.record);
}

/** Writes first versions. The stamp must have been taken in this transaction. */
export async function insertFirstVersions(
  client: ClientBase,
  records: readonly TableRecord[],
): Promise<void> {
  await insertRecords(client, 'readings', READING_RECORD_COLUMNS, records);
}

/** Writes the next version of each record (as {@link loadRecords} gave it, then changed), under this stamp. */
export async function insertNextVersions(
  client: ClientBase,
  records: readonly TableRecord[],
  stampMs: number,
): Promise<void> {
  if (records.length === 0) return;
  const stamp = new Date(stampMs).toISOString();
  await client.query({
    name: 'supersede-readings',
    text: 'update readings set superseded = $2 where reading_id = any($1::uuid[]) and superseded is null',
    values: [records.map((record) => record.reading_id), stamp],
  });
  const next = records.map((record) => ({
    ...record,
    version: Number(record.version) + 1,
    stamp,
  }));
  await insertRecords(client, 'readings', READING_RECORD_COLUMNS, next);
}

/** Marks the sets of these readings, and those that brought one of them too, as changed, for senders that ask what changed. */
export async function markSetsChanged(
  client: ClientBase,
  submissionIds: readonly string[],
  stampMs: number,
): Promise<void> {
  await client.query({
    name: 'mark-sets-changed',
    text: `update submissions set changed_stamp = $2
            where submission_id = any($1::uuid[])
               or submission_id in (select k.submission_id from linked_readings k
                                     where k.first_submission_id = any($1::uuid[]))`,
    values: [[...new Set(submissionIds)], new Date(stampMs).toISOString()],
  });
}
