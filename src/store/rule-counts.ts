/** How often each rule spoke lately: counted in the process and written down by the hour. */
import type { Pool } from 'pg';

/** The first and last moment of what is asked for are rounded to this. */
const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;
const WEEK_MS = 7 * DAY_MS;

/** What a rule said in the last day and the last seven, this hour included. */
export interface RuleCount {
  readonly last24Hours: number;
  readonly last7Days: number;
}

/**
 * Gathers counts in memory, so that no commit waits for them; {@link RuleTally.flush} adds them to the
 * table. What a killed process had not flushed is missing from a figure that nobody decides by.
 */
export class RuleTally {
  #counts = new Map<string, number>();
  #droppedHourMs = 0;
  readonly #pool: Pool;
  readonly #clock: () => number;

  constructor(pool: Pool, clock: () => number = Date.now) {
    this.#pool = pool;
    this.#clock = clock;
  }

  count(rule: string): void {
    this.#counts.set(rule, (this.#counts.get(rule) ?? 0) + 1);
  }

  /** Adds to the table what was counted since the last flush; keeps it for the next one when that fails. */
  async flush(): Promise<void> {
    const hourMs = Math.floor(this.#clock() / HOUR_MS) * HOUR_MS;
    if (this.#counts.size > 0) {
      const counts = this.#counts;
      this.#counts = new Map();
      await this.#add(hourMs, counts).catch((error: unknown) => {
        for (const [rule, times] of counts) {
          this.#counts.set(rule, (this.#counts.get(rule) ?? 0) + times);
        }
        throw error;
      });
    }
    if (hourMs === this.#droppedHourMs) return;
    await this.#pool.query('delete from rule_counts where counted_hour < $1', [
      new Date(hourMs - WEEK_MS - HOUR_MS),
    ]);
    this.#droppedHourMs = hourMs;
  }

  /** In the order of the rules' names: two processes never wait for each other crosswise. */
  async #add(hourMs: number, counts: ReadonlyMap<string, number>): Promise<void> {
    const sorted = [...counts].sort(([a], [b]) => (a < b ? -1 : 1));
    await this.#pool.query(
      `insert into rule_counts (rule, counted_hour, times)
       select rule, $3, times from unnest($1::text[], $2::int[]) as c(rule, times)
       on conflict (rule, counted_hour) do update set times = rule_counts.times + excluded.times`,
      [sorted.map(([rule]) => rule), sorted.map(([, times]) => times), new Date(hourMs)],
    );
  }
}

/** By rule; a rule that said nothing is missing. */
export async function readRuleCounts(pool: Pool, nowMs: number): Promise<Map<string, RuleCount>> {
  const { rows } = await pool.query<{ rule: string; day: number; week: number }>(
    `select rule, sum(times)::int as week,
            coalesce(sum(times) filter (where counted_hour > $1), 0)::int as day
       from rule_counts where counted_hour > $2 group by rule`,
    [new Date(nowMs - DAY_MS), new Date(nowMs - WEEK_MS)],
  );
  return new Map(rows.map(({ rule, day, week }) => [rule, { last24Hours: day, last7Days: week }]));
}
