/** How a source does: when it was last heard, and what became of its readings lately. */
import type { Pool } from 'pg';
import type { Verdict } from '../vitals/words.js';

const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;

type Verdicts = Readonly<Record<Verdict, number>>;

/** Times in ms since the epoch. */
export interface SourceHealth {
  /** Null: nothing of the last week. */
  readonly lastHeardMs: number | null;
  /** Readings judged in the last day, this hour included. */
  readonly lastDay: Verdicts;
}

/** Readings of one source that were judged in one hour. */
export interface SourceHour {
  readonly hourMs: number;
  readonly counts: Verdicts;
}

/** The hours of the last week in which a source was heard, oldest first. */
export async function readSourceHours(pool: Pool, sourceKey: number): Promise<SourceHour[]> {
  const { rows } = await pool.query<{ counted_hour: Date } & Verdicts>(
    `select counted_hour, accepted, noted, held, rejected
       from source_hours where source_key = $1 order by counted_hour`,
    [sourceKey],
  );
  return rows.map(({ counted_hour: hour, ...counts }) => ({ hourMs: hour.getTime(), counts }));
}

/** By source key; a source that was not heard for a week is missing. */
export async function readSourceHealth(
  pool: Pool,
  nowMs: number,
): Promise<Map<number, SourceHealth>> {
  const { rows } = await pool.query<{ source_key: number; last_at: Date } & Verdicts>(
    `select source_key, max(last_at) as last_at,
            coalesce(sum(accepted) filter (where counted_hour > $1), 0)::int as accepted,
            coalesce(sum(noted) filter (where counted_hour > $1), 0)::int as noted,
            coalesce(sum(held) filter (where counted_hour > $1), 0)::int as held,
            coalesce(sum(rejected) filter (where counted_hour > $1), 0)::int as rejected
       from source_hours group by source_key`,
    [new Date(nowMs - DAY_MS)],
  );
  return new Map(
    rows.map(({ source_key: key, last_at: lastAt, ...lastDay }) => [
      key,
      { lastHeardMs: lastAt.getTime(), lastDay },
    ]),
  );
}
