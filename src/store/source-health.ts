/** How a source does: when it was last heard, and what became of its readings lately. */
import type { Pool } from 'pg';
import type { Verdict } from '../vitals/words.js';

const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;
const WEEK_MS = 7 * DAY_MS;

type Verdicts = Readonly<Record<Verdict, number>>;

interface Hour {
  lastMs: number;
  readonly counts: Record<Verdict, number>;
}

/** Times in ms since the epoch. */
export interface SourceHealth {
  /** Null: nothing of the last week. */
  readonly lastHeardMs: number | null;
  /** Readings judged in the last day, this hour included. */
  readonly lastDay: Verdicts;
}

/**
 * Gathers counts in memory, so that no commit waits for them; {@link SourceTally.flush} adds them to the
 * table. What a killed process had not flushed is missing from figures that nobody decides by.
 */
export class SourceTally {
  #hours = new Map<number, Hour>();
  #droppedHourMs = 0;
  readonly #pool: Pool;
  readonly #clock: () => number;

  constructor(pool: Pool, clock: () => number = Date.now) {
    this.#pool = pool;
    this.#clock = clock;
  }

  /** Readings of a source have been judged. */
  count(sourceKey: number, verdicts: readonly Verdict[]): void {
    const counts = { accepted: 0, noted: 0, held: 0, rejected: 0 };
    for (const verdict of verdicts) counts[verdict] += 1;
    this.#add(sourceKey, { lastMs: this.#clock(), counts });
  }

  /** Adds to the table what was counted since the last flush; keeps it for the next one when that fails. */
  async flush(): Promise<void> {
    const hourMs = Math.floor(this.#clock() / HOUR_MS) * HOUR_MS;
    if (this.#hours.size > 0) {
      const hours = this.#hours;
      this.#hours = new Map();
      await this.#write(hourMs, hours).catch((error: unknown) => {
        for (const [sourceKey, hour] of hours) this.#add(sourceKey, hour);
        throw error;
      });
    }
    if (hourMs === this.#droppedHourMs) return;
    await this.#pool.query('delete from source_hours where counted_hour < $1', [
      new Date(hourMs - WEEK_MS),
    ]);
    this.#droppedHourMs = hourMs;
  }

  #add(sourceKey: number, more: Hour): void {
    const hour = this.#hours.get(sourceKey);
    if (hour === undefined) {
      this.#hours.set(sourceKey, more);
      return;
    }
    hour.lastMs = Math.max(hour.lastMs, more.lastMs);
    for (const verdict of Object.keys(more.counts) as Verdict[]) {
      hour.counts[verdict] += more.counts[verdict];
    }
  }

  /** In the order of the keys: two processes never wait for each other crosswise. */
  async #write(hourMs: number, hours: ReadonlyMap<number, Hour>): Promise<void> {
    const sorted = [...hours].sort(([a], [b]) => a - b);
    const counts = (verdict: Verdict): number[] => sorted.map(([, hour]) => hour.counts[verdict]);
    await this.#pool.query(
      `insert into source_hours (source_key, counted_hour, last_at, accepted, noted, held, rejected)
       select c.source_key, $1, c.last_at, c.accepted, c.noted, c.held, c.rejected
         from unnest($2::int[], $3::timestamptz[], $4::int[], $5::int[], $6::int[], $7::int[])
                as c(source_key, last_at, accepted, noted, held, rejected)
       on conflict (source_key, counted_hour) do update
          set last_at = greatest(source_hours.last_at, excluded.last_at),
              accepted = source_hours.accepted + excluded.accepted,
              noted = source_hours.noted + excluded.noted,
              held = source_hours.held + excluded.held,
              rejected = source_hours.rejected + excluded.rejected`,
      [
        new Date(hourMs),
        sorted.map(([key]) => key),
        sorted.map(([, hour]) => new Date(hour.lastMs)),
        ...[counts('accepted'), counts('noted'), counts('held'), counts('rejected')],
      ],
    );
  }
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
