/** Figures of the review: what waits, and what the last days brought. Each count ends at a limit. */
import type { Pool } from 'pg';
import type { HoldKind, Verdict } from '../vitals/words.js';
import { firstIdAt } from './review-submissions.js';

/** Rows that one figure looks at, at most: the most urgent, or the newest. */
const MAX_ROWS = 100_000;
const DAY_MS = 24 * 60 * 60 * 1000;
const WEEK_MS = 7 * DAY_MS;

/** Held readings that are alike. Times in ms since the epoch. */
export interface HeldFigure {
  readonly critical: boolean;
  readonly published: boolean;
  readonly hold: HoldKind;
  readonly count: number;
  /** When the longest held of them was held, or sent out. */
  readonly sinceMs: number;
  /** When the next of them goes out by itself. */
  readonly deadlineMs: number | null;
}

/** How often something was seen in the last day and the last seven. */
export interface Recent {
  readonly day: number;
  readonly week: number;
}

/** What became of readings, by where they came from. */
export interface VerdictFigure extends Recent {
  readonly verdict: Verdict;
  readonly source: string;
  /** The widest place of the location. */
  readonly place: string | null;
}

export interface RuleFigure extends Recent {
  readonly rule: string;
}

/** Sets that were refused, by the status answered. */
export interface RefusalFigure extends Recent {
  readonly status: number;
  readonly source: string;
}

/** What was looked at only in part, because there was more of it than the limit. */
export type CountedInPart = (typeof COUNTED)[number];
const COUNTED = ['held', 'reviewed', 'accepted', 'refused'] as const;

export interface ReviewFigures {
  readonly nowMs: number;
  readonly held: readonly HeldFigure[];
  readonly verdicts: readonly VerdictFigure[];
  readonly rules: readonly RuleFigure[];
  readonly refusals: readonly RefusalFigure[];
  readonly partial: readonly CountedInPart[];
}

type Query = <T extends object>(text: string, values: readonly unknown[]) => Promise<T[]>;

/**
 * Reads all figures, one query after the other, so that looking at them never takes more than one
 * connection from those who send.
 */
export async function readReviewFigures(pool: Pool): Promise<ReviewFigures> {
  const query: Query = async <T extends object>(text: string, values: readonly unknown[]) =>
    (await pool.query<T>(text, [...values])).rows;
  const clock = await query<{ now: Date }>('select clock_timestamp() as now', []);
  const nowMs = clock[0]?.now.getTime() ?? 0;
  const held = await readHeld(query);
  const reviewed = await readVerdicts(query, nowMs, ['held', 'rejected']);
  const accepted = await readVerdicts(query, nowMs, ['accepted', 'noted']);
  const rules = await readRules(query, nowMs);
  const refusals = await readRefusals(query, nowMs);
  const looked: Readonly<Record<CountedInPart, number>> = {
    held: held.reduce((sum, one) => sum + one.count, 0),
    reviewed: weekOf(reviewed),
    accepted: weekOf(accepted),
    refused: weekOf(refusals),
  };
  return {
    nowMs,
    held,
    verdicts: [...reviewed, ...accepted],
    rules,
    refusals,
    partial: COUNTED.filter((name) => looked[name] === MAX_ROWS),
  };
}

function weekOf(figures: readonly Recent[]): number {
  return figures.reduce((sum, one) => sum + one.week, 0);
}

async function readHeld(query: Query): Promise<HeldFigure[]> {
  const rows = await query<{
    critical: boolean;
    published: boolean;
    hold: HoldKind;
    count: number;
    since: Date;
    deadline: Date | null;
  }>(
    `select r.critical, r.published, r.hold, count(*)::int as count,
            min(r.stamp) as since, min(r.hold_until) as deadline
       from (select critical is true as critical, status is not null as published, hold, stamp, hold_until
               from readings where verdict = 'held' and superseded is null limit $1) r
      group by r.critical, r.published, r.hold`,
    [MAX_ROWS],
  );
  return rows.map(({ critical, published, hold, count, since, deadline }) => ({
    ...{ critical, published, hold, count },
    sinceMs: since.getTime(),
    deadlineMs: deadline?.getTime() ?? null,
  }));
}

/** The verdicts are written out for the planner, which then knows which partial index has them. */
async function readVerdicts(
  query: Query,
  nowMs: number,
  verdicts: readonly Verdict[],
): Promise<VerdictFigure[]> {
  return query<VerdictFigure>(
    `select c.verdict, s.name as source, split_part(l.path, '/', 1) as place,
            sum(c.day)::int as day, sum(c.week)::int as week
       from (select r.verdict, r.source_key, r.place_key,
                    count(*) filter (where r.stamp >= $2) as day, count(*) as week
               from (select verdict, source_key, place_key, stamp from readings
                      where verdict in (${verdicts.map((one) => `'${one}'`).join(', ')})
                        and superseded is null and stamp >= $3
                      order by stamp desc limit $1) r
              group by r.verdict, r.source_key, r.place_key) c
       join sources s on s.source_key = c.source_key
       left join places l on l.place_key = c.place_key
      group by 1, 2, 3`,
    [MAX_ROWS, ...windows(nowMs)],
  );
}

async function readRules(query: Query, nowMs: number): Promise<RuleFigure[]> {
  return query<RuleFigure>(
    `select f.value ->> 'rule' as rule,
            (count(*) filter (where r.stamp >= $2))::int as day, count(*)::int as week
       from (select findings, stamp from readings
              where verdict in ('held', 'rejected') and superseded is null and stamp >= $3
              order by stamp desc limit $1) r, jsonb_array_elements(r.findings) f
      group by 1`,
    [MAX_ROWS, ...windows(nowMs)],
  );
}

async function readRefusals(query: Query, nowMs: number): Promise<RefusalFigure[]> {
  const [day, week] = [firstIdAt(nowMs - DAY_MS), firstIdAt(nowMs - WEEK_MS)];
  return query<RefusalFigure>(
    `select c.status, s.name as source, c.day, c.week
       from (select r.status, r.source_key,
                    (count(*) filter (where r.submission_id >= $2))::int as day, count(*)::int as week
               from (select status, source_key, submission_id from submissions
                      where status >= 400 and kind = 'set' and submission_id >= $3
                      order by submission_id desc limit $1) r
              group by r.status, r.source_key) c
       join sources s on s.source_key = c.source_key`,
    [MAX_ROWS, day, week],
  );
}

/** Beginning of the last day and of the last seven, as SQL takes times. */
function windows(nowMs: number): [day: string, week: string] {
  return [new Date(nowMs - DAY_MS).toISOString(), new Date(nowMs - WEEK_MS).toISOString()];
}
