/** What went out although somebody should have confirmed it first, and what became of it. */
import type { Pool } from 'pg';
import { boundSearch } from './review-bounds.js';

/** Times in ms since the epoch. */
export interface SentUnconfirmed {
  readonly readingId: string;
  /** When it first went out so. */
  readonly sentMs: number;
}

/** Readings that first went out unconfirmed in a stretch of time (from inclusive, to exclusive), oldest first. */
export async function listSentUnconfirmed(
  pool: Pool,
  fromMs: number,
  toMs: number,
  limit: number,
): Promise<SentUnconfirmed[]> {
  const { rows } = await boundSearch(
    pool.query<{ reading_id: string; sent_ms: string }>({
      name: 'list-sent-unconfirmed',
      text: `select v.reading_id, (extract(epoch from min(v.stamp)) * 1000)::bigint::text as sent_ms
               from readings v
              where v.verdict = 'held' and v.status = 'preliminary' and v.stamp >= $1 and v.stamp < $2
                and not exists (select from readings b
                       where b.reading_id = v.reading_id and b.verdict = 'held' and b.status = 'preliminary'
                         and b.stamp < $1)
              group by v.reading_id order by min(v.stamp), v.reading_id limit $3`,
      values: [new Date(fromMs), new Date(toMs), limit],
    }),
  );
  return rows.map((row) => ({ readingId: row.reading_id, sentMs: Number(row.sent_ms) }));
}
