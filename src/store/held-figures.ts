/** What the list of held readings is headed by, and what has changed in it since. */
import type { Pool } from 'pg';

/** Counting stops here: beyond it nobody reads on to the end. */
export const MOST_COUNTED = 1_000;

/** How many readings are held, by where they stand; one more than {@link MOST_COUNTED} means more. */
export interface HeldCounts {
  readonly criticalWaiting: number;
  readonly criticalOut: number;
  readonly otherWaiting: number;
  readonly otherOut: number;
}

/** The expression of the index `readings_by_urgency`, word for word; `r` is the newest version. */
const RANK =
  '(case when r.critical then 0 else 2 end + case when r.status is null then 0 else 1 end)';

const countOf = (rank: number): string =>
  `(select count(*)::int from (select from readings r
      where r.verdict = 'held' and r.superseded is null and ${RANK} = ${rank} limit ${MOST_COUNTED + 1}) as counted)`;

export async function countHeld(pool: Pool): Promise<HeldCounts> {
  const { rows } = await pool.query<{ counts: [number, number, number, number] }>({
    name: 'count-held',
    text: `select array[${[0, 1, 2, 3].map(countOf).join(', ')}] as counts`,
  });
  const [criticalWaiting = 0, criticalOut = 0, otherWaiting = 0, otherOut = 0] =
    rows[0]?.counts ?? [];
  return { criticalWaiting, criticalOut, otherWaiting, otherOut };
}

/** The stamp of the last commit, in ms since the epoch. */
export async function readLastStamp(pool: Pool): Promise<number> {
  const { rows } = await pool.query<{ stamp_ms: string }>({
    name: 'read-last-stamp',
    text: `select (extract(epoch from last_stamp) * 1000)::bigint::text as stamp_ms from publication_clock`,
  });
  return Number(rows[0]?.stamp_ms ?? 0);
}

/** Readings whose newest version is held and was made between two stamps. */
export interface NewlyHeld {
  readonly critical: number;
  readonly all: number;
}

/** @param afterMs exclusive; @param untilMs inclusive; stamps in ms since the epoch */
export async function countNewlyHeld(
  pool: Pool,
  afterMs: number,
  untilMs: number,
): Promise<NewlyHeld> {
  const { rows } = await pool.query<{ critical: number; all: number }>({
    name: 'count-newly-held',
    text: `select count(*) filter (where r.critical)::int as critical, count(*)::int as all
             from readings r
            where r.verdict in ('held', 'rejected') and r.verdict = 'held' and r.superseded is null
              and r.stamp > $1 and r.stamp <= $2`,
    values: [new Date(afterMs), new Date(untilMs)],
  });
  return rows[0] ?? { critical: 0, all: 0 };
}
