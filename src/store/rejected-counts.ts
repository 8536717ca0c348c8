/** How much was rejected, by the hour or the day: by rule, by source, and what was refused whole. */
import type { Pool } from 'pg';
import { boundSearch } from './review-bounds.js';
import { reviewRows } from './review-search.js';
import type { ReviewSearch } from './review-search.js';
import { firstIdAt } from './review-submissions.js';
import { SqlValues } from './sql-values.js';

/** Rows that one count looks at, the newest of those found. */
const MAX_ROWS = 100_000;

/** What stands where a person decided and no rule rejected. */
export const BY_A_PERSON = 'by-a-person';

export type CountStep = 'hour' | 'day';

export interface Counted {
  /** Begin of the hour or day, in ms since the epoch. */
  readonly fromMs: number;
  /** A rule, or a source. */
  readonly what: string;
  readonly count: number;
}

export interface Counts {
  readonly counted: readonly Counted[];
  /** There was more than is looked at: the oldest are missing. */
  readonly isPartial: boolean;
}

interface CountRow {
  from_at: Date;
  what: string;
  count: number;
  looked: string;
}

/** How the time is cut: hours or days of a zone (IANA name). */
export interface Steps {
  readonly step: CountStep;
  readonly zone: string;
}

/** Rejected readings of a search by the rules that rejected them; one with two of them counts for each. */
export function countRejectedByRule(
  pool: Pool,
  search: ReviewSearch,
  steps: Steps,
): Promise<Counts> {
  const values = new SqlValues();
  return count(
    pool,
    `${found(search, ['r.findings'], values)}
     select ${stepOf(steps, values)} as from_at, coalesce(f.value ->> 'rule', '${BY_A_PERSON}') as what,
            count(*)::int as count, (select count(*) from found) as looked
       from found
       left join lateral jsonb_array_elements(findings) f on f.value ->> 'verdict' = 'rejected'
      group by 1, 2 order by 1, 2`,
    values,
  );
}

/** Rejected readings of a search by the source that sent them. */
export function countRejectedBySource(
  pool: Pool,
  search: ReviewSearch,
  steps: Steps,
): Promise<Counts> {
  const values = new SqlValues();
  return count(
    pool,
    `${found(search, ['r.source_key'], values)}
     select c.from_at, s.name as what, c.count, (select count(*) from found) as looked
       from (select ${stepOf(steps, values)} as from_at, source_key, count(*)::int as count
               from found group by 1, 2) c
       join sources s on s.source_key = c.source_key order by 1, 2`,
    values,
  );
}

/** Submissions refused whole, by source. Times in ms since the epoch; `toMs` is exclusive, null: without end. */
export function countRefusedBySource(
  pool: Pool,
  range: { readonly fromMs: number; readonly toMs: number | null },
  statuses: readonly number[],
  steps: Steps,
): Promise<Counts> {
  const values = new SqlValues();
  const upTo =
    range.toMs === null ? '' : `and submission_id < ${values.bind(firstIdAt(range.toMs), 'uuid')}`;
  return count(
    pool,
    `with found as (
       select received_at as at, source_key from submissions
        where status >= 400 and status = any(${values.bind(statuses, 'smallint[]')})
          and submission_id >= ${values.bind(firstIdAt(range.fromMs), 'uuid')} ${upTo}
        order by submission_id desc limit ${MAX_ROWS})
     select c.from_at, s.name as what, c.count, (select count(*) from found) as looked
       from (select ${stepOf(steps, values)} as from_at, source_key, count(*)::int as count
               from found group by 1, 2) c
       join sources s on s.source_key = c.source_key order by 1, 2`,
    values,
  );
}

function found(search: ReviewSearch, columns: readonly string[], values: SqlValues): string {
  const rows = reviewRows(search, values);
  return `with found as (
    select ${rows.at} as at, ${columns.join(', ')} from ${rows.from}
     where ${rows.where} order by ${rows.at} desc limit ${MAX_ROWS})`;
}

function stepOf({ step, zone }: Steps, values: SqlValues): string {
  return `date_trunc('${step}', at, ${values.bind(zone, 'text')})`;
}

async function count(pool: Pool, text: string, values: SqlValues): Promise<Counts> {
  const { rows } = await boundSearch(pool.query<CountRow>(text, values.list));
  return {
    counted: rows.map((row) => ({
      fromMs: row.from_at.getTime(),
      what: row.what,
      count: row.count,
    })),
    isPartial: Number(rows[0]?.looked ?? 0) === MAX_ROWS,
  };
}
