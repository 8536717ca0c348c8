/** Sets as things stand now, for the source that sent them, or the person who took them there. */
import type { Pool } from 'pg';
import type { Identifier, ReadingVersion } from '../vitals/shapes.js';
import { atPlace } from './linked-readings.js';
import {
  READING_COLUMNS,
  READING_DICTIONARIES,
  READING_TABLES,
  readingIdRange,
  toReadingVersion,
} from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

/** A set and the newest versions of its readings, in their order. */
export interface StoredSet {
  readonly setId: string;
  readonly submissionId: string;
  readonly changedMs: number;
  readonly readings: readonly ReadingVersion[];
}

interface SetRow {
  submission_id: string;
  set_id: string;
  changed_ms: string;
}

const SET_COLUMNS = `submission_id, set_id,
  (extract(epoch from changed_stamp) * 1000)::bigint::text as changed_ms`;

/** Whose sets are asked for. */
export interface SetOwner {
  readonly sourceKey: number;
  /** Null: a program, which speaks for all of its source. */
  readonly person: Identifier | null;
}

/** A person sees what that person took, whoever sent it. @param place of the first value in the query */
function ofOwner({ person }: SetOwner, place: number): { sql: string; values: string[] } {
  if (person === null) return { sql: 'true', values: [] };
  const sql = `person_key = (
    select person_key from people where system = $${place} and value = $${place + 1})`;
  return { sql, values: [person.system, person.value] };
}

/** The set of this owner, or null. */
export async function findSet(
  pool: Pool,
  owner: SetOwner,
  setId: string,
): Promise<StoredSet | null> {
  const own = ofOwner(owner, 3);
  const { rows } = await pool.query<SetRow>({
    name: owner.person === null ? 'find-set' : 'find-set-of-person',
    text: `select ${SET_COLUMNS} from submissions
            where set_id = $1 and source_key = $2 and holds_key and ${own.sql}`,
    values: [setId, owner.sourceKey, ...own.values],
  });
  return (await withReadings(pool, rows))[0] ?? null;
}

/**
 * Sets of this owner changed after a time, oldest change first. All sets of one commit come together,
 * so that the next call can ask for what changed after the last one's time.
 */
export async function listChangedSets(
  pool: Pool,
  owner: SetOwner,
  changedSinceMs: number,
  limit: number,
): Promise<StoredSet[]> {
  const own = ofOwner(owner, 4);
  const { rows } = await pool.query<SetRow>({
    name: owner.person === null ? 'list-changed-sets' : 'list-changed-sets-of-person',
    text: `select ${SET_COLUMNS} from submissions
            where source_key = $1 and changed_stamp > $2 and holds_key and ${own.sql}
            order by changed_stamp fetch first $3 rows with ties`,
    values: [owner.sourceKey, new Date(changedSinceMs).toISOString(), limit, ...own.values],
  });
  return withReadings(pool, rows);
}

async function withReadings(pool: Pool, rows: readonly SetRow[]): Promise<StoredSet[]> {
  if (rows.length === 0) return [];
  const ranges = rows.map((row) => readingIdRange(row.submission_id));
  const found = await pool.query<ReadingRow>({
    name: 'read-set-readings',
    text: `select ${READING_COLUMNS} from ${READING_TABLES}
             join unnest($1::uuid[], $2::uuid[]) as range(first, last)
               on r.reading_id between range.first and range.last
            where r.superseded is null`,
    values: [ranges.map((range) => range.first), ranges.map((range) => range.last)],
  });
  const bySubmission = new Map<string, ReadingVersion[]>();
  for (const row of found.rows) {
    const version = toReadingVersion(row);
    const list = bySubmission.get(version.submissionId);
    if (list === undefined) bySubmission.set(version.submissionId, [version]);
    else list.push(version);
  }
  await addLinked(pool, rows, bySubmission);
  return rows.map((row) => ({
    setId: row.set_id,
    submissionId: row.submission_id,
    changedMs: Number(row.changed_ms),
    readings: (bySubmission.get(row.submission_id) ?? []).sort((a, b) => a.index - b.index),
  }));
}

/** Adds what another submission brought first, as it stands there, at its place in the later set. */
async function addLinked(
  pool: Pool,
  sets: readonly SetRow[],
  bySubmission: Map<string, ReadingVersion[]>,
): Promise<void> {
  const { rows } = await pool.query<ReadingRow & { later_submission: string; place: number }>({
    name: 'read-linked-readings',
    text: `select ${READING_COLUMNS}, k.submission_id as later_submission, k.place
             from linked_readings k
             join readings r on r.reading_id = k.reading_id and r.superseded is null
             ${READING_DICTIONARIES}
            where k.submission_id = any($1::uuid[])`,
    values: [sets.map((set) => set.submission_id)],
  });
  for (const row of rows) {
    const list = bySubmission.get(row.later_submission) ?? [];
    bySubmission.set(row.later_submission, list);
    list.push(atPlace(toReadingVersion(row), row.place));
  }
}
