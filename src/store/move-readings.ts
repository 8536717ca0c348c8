/** Moving what one patient owns to another: merging two registrations of one person, and undoing it. */
import type { PoolClient } from 'pg';
import { followPanels } from './follow-panels.js';
import { READING_RECORD_COLUMNS } from './reading-records.js';

/** Whose, to whom, under which commit stamp. */
export interface Move {
  readonly fromKey: number;
  readonly toKey: number;
  readonly stampMs: number;
  /** Only what was named by these identifiers; null: all of it. */
  readonly identifierKeys: readonly number[] | null;
}

const KEPT = READING_RECORD_COLUMNS.map(([name]) => name).filter(
  (name) => !['patient_key', 'version', 'stamp'].includes(name),
);

/** Each reading gets a next version under the other patient, and with them their panels; nothing else changes. */
export async function moveReadings(client: PoolClient, move: Move): Promise<number> {
  const stamp = new Date(move.stampMs).toISOString();
  const whose = `patient_key = $1 and superseded is null
             and ($2::int[] is null or identifier_key = any($2::int[]))`;
  const columns = KEPT.join(', ');
  const { rowCount } = await client.query(
    `insert into readings (patient_key, version, stamp, ${columns})
     select $3::int, version + 1, $4::timestamptz, ${columns} from readings where ${whose}`,
    [move.fromKey, move.identifierKeys, move.toKey, stamp],
  );
  await client.query(`update readings set superseded = $3::timestamptz where ${whose}`, [
    move.fromKey,
    move.identifierKeys,
    stamp,
  ]);
  await followPanels(client, move.stampMs);
  return rowCount ?? 0;
}

/** Sets that wait because of their patient's identity wait for the other one now, and are judged again. */
export async function moveWaitingSets(client: PoolClient, move: Move): Promise<void> {
  await client.query(
    `update submissions s set patient_key = $2, identity_doubted_stamp = 'epoch'
      where s.patient_key = $1 and s.identity_doubted_stamp is not null
        and ($3::int[] is null or exists (
              select from readings r
               where r.patient_key in ($1, $2) and r.superseded is null and r.hold = 'identity'
                 and r.identifier_key = any($3::int[])
                 and left(r.reading_id::text, 32) = left(s.submission_id::text, 32)))`,
    [move.fromKey, move.toKey, move.identifierKeys],
  );
}

/** Whose the devices were goes with the person. */
export async function moveAssociations(client: PoolClient, move: Move): Promise<void> {
  await client.query(
    `update associations set patient_key = $2
      where patient_key = $1 and ($3::int[] is null or identifier_key = any($3::int[]))`,
    [move.fromKey, move.toKey, move.identifierKeys],
  );
}
