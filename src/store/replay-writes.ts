/** What a replay writes: first versions of what nobody could read, next ones of what had been rejected. */
import type { JudgedReading, JudgedSet } from '../vitals/shapes.js';
import { packBytes } from './compress.js';
import { followPanels } from './follow-panels.js';
import { takeStamp } from './publication-clock.js';
import { publicationCauses, publishHeldEarlier } from './publish-held.js';
import {
  firstRecord,
  holdUntil,
  insertFirstVersions,
  insertNextVersions,
  judgedColumns,
  loadRecords,
} from './reading-records.js';
import { indexOf, readingId } from './reading-rows.js';
import type { Replaying } from './replaying.js';

export async function writeReplay(
  replaying: Replaying,
  judged: JudgedSet,
  changed: readonly JudgedReading[],
  rejectedIds: readonly string[],
): Promise<void> {
  const { client, judging, part } = replaying;
  const old = await loadRecords(client, rejectedIds);
  const oldByIndex = new Map(old.map((record) => [indexOf(String(record.reading_id)), record]));
  const stampMs = await takeStamp(client);
  const stamp = new Date(stampMs).toISOString();
  const timed = (record: Record<string, unknown>): Record<string, unknown> => ({
    ...record,
    hold_until: holdUntil(record, stampMs, judging.holdMinutes),
  });
  const next: Record<string, unknown>[] = [];
  const fresh: Record<string, unknown>[] = [];
  for (const one of changed) {
    const before = oldByIndex.get(one.reading.index);
    if (before === undefined) {
      fresh.push({ ...timed(recordOf(replaying, one, judged.edition)), stamp });
    } else {
      const columns = judgedColumns(one, judged.edition, deviceKeyOf(replaying, one));
      next.push(timed({ ...before, ...BLANK, ...columns }));
    }
  }
  await insertNextVersions(client, next, stampMs);
  await insertFirstVersions(client, fresh);
  await publishHeldEarlier(client, publicationCauses(judged), stampMs);
  await followPanels(client, stampMs);
  await client.query(
    'update unread_rows set read_at = $3 where submission_id = $1 and place = any($2)',
    [part.submission_id, changed.map(({ reading }) => reading.index), stamp],
  );
  await keepSet(replaying, changed, stamp);
}

/** Columns that a judgement may leave out. */
const BLANK = {
  ...{ hold: null, status: null, findings: null, interpretation: null, entered: null },
  ...{ report: null, context: null, critical: null },
};

function deviceKeyOf({ names }: Replaying, { reading }: JudgedReading): number | null {
  return names.device(reading.device);
}

function recordOf(
  replaying: Replaying,
  one: JudgedReading,
  edition: number,
): Record<string, unknown> {
  const { kept, names, part } = replaying;
  const place = {
    setId: part.set_id,
    patientKey: part.patient_key,
    identifierKey: names.patient(kept.patient.identifier).identifierKey,
    sourceKey: part.source_key,
    recorderKey: names.person(kept.recorder),
    recorderAsserted: kept.recorder === null ? null : true,
    placeKey: names.place(kept.location),
  };
  const id = readingId(part.submission_id, one.reading.index);
  return firstRecord(id, place, one, edition, deviceKeyOf(replaying, one));
}

/** What is judged again later, for its patient or in a trial, is the set as it is read now. */
async function keepSet(
  { client, kept, part }: Replaying,
  changed: readonly JudgedReading[],
  stamp: string,
): Promise<void> {
  const replaced = new Set(changed.map(({ reading }) => reading.index));
  const readings = [
    ...kept.readings.filter(({ index }) => !replaced.has(index)),
    ...changed.map(({ reading }) => reading),
  ].sort((a, b) => a.index - b.index);
  const doubted = changed.some(({ hold }) => hold === 'identity');
  await client.query(
    `update submissions set delivered = $2::bytea, changed_stamp = $3,
            identity_doubted_stamp = case when $4 then $3::timestamptz else identity_doubted_stamp end
      where submission_id = $1`,
    [
      part.submission_id,
      packBytes(Buffer.from(JSON.stringify({ ...kept, readings }))),
      stamp,
      doubted,
    ],
  );
}
