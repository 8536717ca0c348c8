import type { Pool } from 'pg';

/** How far publication is behind. Times in ms since the epoch. */
export interface FeedTimes {
  readonly nowMs: number;
  /** The oldest reading that waits for a decision. Its id (UUID version 7) starts with its time. */
  readonly oldestHeldId: string | null;
  /** The earliest deadline of a hold that is still to be published by itself. */
  readonly earliestDeadlineMs: number | null;
  readonly lastStampMs: number;
}

interface FeedRow {
  now: Date;
  oldest_held_id: string | null;
  earliest_deadline: Date | null;
  last_stamp: Date;
}

export async function readFeedTimes(pool: Pool): Promise<FeedTimes> {
  const { rows } = await pool.query<FeedRow>(`
    select clock_timestamp() as now, last_stamp,
           (select reading_id from readings where hold is not null and superseded is null
             order by reading_id limit 1) as oldest_held_id,
           (select min(hold_until) from readings
             where hold is not null and superseded is null) as earliest_deadline
      from publication_clock`);
  const row = rows[0];
  if (row === undefined) throw new Error('publication_clock has lost its row');
  return {
    nowMs: row.now.getTime(),
    oldestHeldId: row.oldest_held_id,
    earliestDeadlineMs: row.earliest_deadline?.getTime() ?? null,
    lastStampMs: row.last_stamp.getTime(),
  };
}
