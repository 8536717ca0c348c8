/** Kept messages that a new mapping may read better. */
import type { Pool } from 'pg';
import { unpackBytes } from './compress.js';
import { boundSearch } from './review-bounds.js';
import { timeText } from './sql-values.js';

/** A message as it is kept: its bytes, and the sets it was taken apart into. */
export interface Replayable {
  readonly submissionId: string;
  readonly sourceKey: number;
  readonly contentType: string;
  readonly receivedAtMs: number;
  readonly bytes: Buffer;
  /** The submissions of its sets. */
  readonly parts: readonly string[];
}

/** The message that a submission came in; null: there is none of that id. */
export async function findReplayable(pool: Pool, id: string): Promise<Replayable | null> {
  const { rows } = await pool.query<{
    submission_id: string;
    source_key: number;
    content_type: string;
    received_at: Date;
    body: Buffer;
    parts: string[] | null;
  }>(
    `select w.submission_id, w.source_key, w.content_type, w.received_at, w.body,
            (select array_agg(p.submission_id::text order by p.submission_id) from submissions p
              where (p.submission_id = w.submission_id or p.part_of = w.submission_id)
                and p.delivered is not null) as parts
       from submissions s join submissions w on w.submission_id = coalesce(s.part_of, s.submission_id)
      where s.submission_id = $1`,
    [id],
  );
  const row = rows[0];
  if (row === undefined) return null;
  return {
    submissionId: row.submission_id,
    sourceKey: row.source_key,
    contentType: row.content_type,
    receivedAtMs: row.received_at.getTime(),
    bytes: unpackBytes(row.body),
    parts: row.parts ?? [],
  };
}

export interface ReplayFilter {
  /** By name; null: any. */
  readonly source: string | null;
  readonly receivedFromMs: number | null;
  /** Exclusive. */
  readonly receivedToMs: number | null;
}

/**
 * Messages with a row that no mapping knew, or with a reading rejected for its unit, in the order of
 * their ids.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function listReplayable(
  pool: Pool,
  { source, receivedFromMs, receivedToMs }: ReplayFilter,
  afterId: string | null,
  limit: number,
): Promise<string[]> {
  const search = pool.query<{ id: string }>(
    `select distinct coalesce(s.part_of, s.submission_id) as id
       from submissions s
      where s.delivered is not null
        and ($1::text is null or s.source_key = (select source_key from sources where name = $1))
        and ($2::timestamptz is null or s.received_at >= $2)
        and ($3::timestamptz is null or s.received_at < $3)
        and ($4::uuid is null or coalesce(s.part_of, s.submission_id) > $4)
        and (exists (select from unread_rows u
                      where u.submission_id = s.submission_id and u.read_at is null
                        and u.reason = 'code-unmapped')
             or exists (select from readings r
                         where r.reading_id > s.submission_id
                           and r.reading_id < (left(s.submission_id::text, 32) || 'ffff')::uuid
                           and r.superseded is null and r.verdict = 'rejected'
                           and r.findings @> '[{"rule": "unit-unknown"}]'))
      order by id limit $5`,
    [
      source,
      receivedFromMs === null ? null : timeText(receivedFromMs),
      receivedToMs === null ? null : timeText(receivedToMs),
      afterId,
      limit,
    ],
  );
  const { rows } = await boundSearch(search);
  return rows.map((row) => row.id);
}
