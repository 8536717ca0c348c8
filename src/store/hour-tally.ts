/** What became of readings by the hour, counted in the process and written down now and then. */
import type { Pool } from 'pg';
import type { Verdict } from '../vitals/words.js';

const HOUR_MS = 60 * 60 * 1000;
const WEEK_MS = 7 * 24 * HOUR_MS;

/** Whose hours are counted: the table, and the column of its key. */
const COUNTED = {
  source: { table: 'source_hours', key: 'source_key' },
  device: { table: 'device_hours', key: 'device_key' },
} as const;

interface Hour {
  lastMs: number;
  readonly counts: Record<Verdict, number>;
}

/**
 * Gathers counts in memory, so that no commit waits for them; {@link HourTally.flush} adds them to the
 * table. What a killed process had not flushed is missing from figures that nobody decides by.
 */
export class HourTally {
  #hours = new Map<number, Hour>();
  #droppedHourMs = 0;
  readonly #pool: Pool;
  readonly #counted: (typeof COUNTED)[keyof typeof COUNTED];
  readonly #clock: () => number;

  constructor(pool: Pool, of: keyof typeof COUNTED, clock: () => number = Date.now) {
    this.#pool = pool;
    this.#counted = COUNTED[of];
    this.#clock = clock;
  }

  /** Readings of one source or device have been judged. */
  count(key: number, verdicts: readonly Verdict[]): void {
    const counts = { accepted: 0, noted: 0, held: 0, rejected: 0 };
    for (const verdict of verdicts) counts[verdict] += 1;
    this.#add(key, { lastMs: this.#clock(), counts });
  }

  /** Adds to the table what was counted since the last flush; keeps it for the next one when that fails. */
  async flush(): Promise<void> {
    const hourMs = Math.floor(this.#clock() / HOUR_MS) * HOUR_MS;
    if (this.#hours.size > 0) {
      const hours = this.#hours;
      this.#hours = new Map();
      await this.#write(hourMs, hours).catch((error: unknown) => {
        for (const [key, hour] of hours) this.#add(key, hour);
        throw error;
      });
    }
    if (hourMs === this.#droppedHourMs) return;
    await this.#pool.query(`delete from ${this.#counted.table} where counted_hour < $1`, [
      new Date(hourMs - WEEK_MS),
    ]);
    this.#droppedHourMs = hourMs;
  }

  #add(key: number, more: Hour): void {
    const hour = this.#hours.get(key);
    if (hour === undefined) {
      this.#hours.set(key, more);
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
    const { table, key } = this.#counted;
    const counts = (verdict: Verdict): number[] => sorted.map(([, hour]) => hour.counts[verdict]);
    await this.#pool.query(
      `insert into ${table} (${key}, counted_hour, last_at, accepted, noted, held, rejected)
       select c.key, $1, c.last_at, c.accepted, c.noted, c.held, c.rejected
         from unnest($2::int[], $3::timestamptz[], $4::int[], $5::int[], $6::int[], $7::int[])
                as c(key, last_at, accepted, noted, held, rejected)
       on conflict (${key}, counted_hour) do update
          set last_at = greatest(${table}.last_at, excluded.last_at),
              accepted = ${table}.accepted + excluded.accepted,
              noted = ${table}.noted + excluded.noted,
              held = ${table}.held + excluded.held,
              rejected = ${table}.rejected + excluded.rejected`,
      [
        new Date(hourMs),
        sorted.map(([one]) => one),
        sorted.map(([, hour]) => new Date(hour.lastMs)),
        ...[counts('accepted'), counts('noted'), counts('held'), counts('rejected')],
      ],
    );
  }
}
