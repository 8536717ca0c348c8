/**
 * How the clocks of senders go. The skew of a source is the time of sending by its own clock minus the
 * time of receipt: a delay on the way only makes it smaller, so the greatest of the last ones is nearest
 * to the truth.
 */
import type { Pool } from 'pg';
import { timeText } from './sql-values.js';

/** How many of the last messages of a source count. */
export const SKEWS_KEPT = 20;

interface Clock {
  /** As the database had them at the last look, this process's among them up to then; newest last. */
  kept: readonly number[];
  /** Not written yet. */
  fresh: readonly number[];
  seenAtMs: number;
}

interface Taken {
  readonly sourceKey: number;
  readonly clock: Clock;
  readonly skews: readonly number[];
}

function lastOf(older: readonly number[], newer: readonly number[]): number[] {
  return [...older, ...newer].slice(-SKEWS_KEPT);
}

/** Skew in ms: positive, its clock is ahead. */
export interface SourceClock {
  readonly skewMs: number;
  readonly seenAtMs: number;
}

/**
 * Remembers the skews of this process's messages and adds them to the table with
 * {@link SourceClocks.flush}, so that no message waits for it. Other processes' come in by the same way.
 */
export class SourceClocks {
  readonly #clocks = new Map<number, Clock>();
  readonly #pool: Pool;

  constructor(pool: Pool) {
    this.#pool = pool;
  }

  /** Notes one message and tells the skew of its source, this message counted. */
  async note(sourceKey: number, skewMs: number, seenAtMs: number): Promise<number> {
    const clock = this.#clocks.get(sourceKey) ?? (await this.#load(sourceKey));
    clock.fresh = lastOf(clock.fresh, [Math.round(skewMs)]);
    clock.seenAtMs = Math.max(clock.seenAtMs, seenAtMs);
    return Math.max(...lastOf(clock.kept, clock.fresh));
  }

  /** Writes what was noted since the last flush; keeps it for the next one when that fails. */
  async flush(): Promise<void> {
    const taken = [...this.#clocks]
      .filter(([, { fresh }]) => fresh.length > 0)
      .sort(([a], [b]) => a - b)
      .map(([sourceKey, clock]) => ({ sourceKey, clock, skews: clock.fresh }));
    if (taken.length === 0) return;
    for (const { clock, skews } of taken) {
      clock.kept = lastOf(clock.kept, skews);
      clock.fresh = [];
    }
    try {
      const kept = await this.#write(taken);
      for (const { sourceKey, clock } of taken) clock.kept = kept.get(sourceKey) ?? clock.kept;
    } catch (error) {
      for (const { clock, skews } of taken) clock.fresh = lastOf(skews, clock.fresh);
      throw error;
    }
  }

  /** What the table holds afterwards, by source. */
  async #write(taken: readonly Taken[]): Promise<Map<number, number[]>> {
    const { rows } = await this.#pool.query<{ source_key: number; skews_ms: string[] }>(
      `insert into source_clocks (source_key, skews_ms, seen_at)
       select n.source_key, n.skews::bigint[], n.seen_at
         from unnest($1::int[], $2::text[], $3::timestamptz[]) as n(source_key, skews, seen_at)
       on conflict (source_key) do update
          set skews_ms = (source_clocks.skews_ms || excluded.skews_ms)
                [greatest(1, cardinality(source_clocks.skews_ms || excluded.skews_ms) - ${SKEWS_KEPT - 1}):],
              seen_at = greatest(source_clocks.seen_at, excluded.seen_at)
       returning source_key, skews_ms`,
      [
        taken.map(({ sourceKey }) => sourceKey),
        // An array of arrays would have to be rectangular.
        taken.map(({ skews }) => `{${skews.join(',')}}`),
        taken.map(({ clock }) => timeText(clock.seenAtMs)),
      ],
    );
    // Single numbers of eight bytes come as numbers, those in an array as text.
    return new Map(rows.map((row) => [row.source_key, row.skews_ms.map(Number)]));
  }

  async #load(sourceKey: number): Promise<Clock> {
    const { rows } = await this.#pool.query<{ skews_ms: string[] }>(
      'select skews_ms from source_clocks where source_key = $1',
      [sourceKey],
    );
    // Another message may have loaded it meanwhile.
    const clock = this.#clocks.get(sourceKey) ?? {
      kept: (rows[0]?.skews_ms ?? []).map(Number),
      fresh: [],
      seenAtMs: 0,
    };
    this.#clocks.set(sourceKey, clock);
    return clock;
  }
}

/** By source key; a source that sent no message with a time of its own is missing. */
export async function readSourceClocks(pool: Pool): Promise<Map<number, SourceClock>> {
  const { rows } = await pool.query<{ source_key: number; skew_ms: number; seen_at: Date }>(
    `select source_key, (select max(one) from unnest(skews_ms) as one) as skew_ms, seen_at
       from source_clocks`,
  );
  return new Map(
    rows.map((row) => [row.source_key, { skewMs: row.skew_ms, seenAtMs: row.seen_at.getTime() }]),
  );
}
