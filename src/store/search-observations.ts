/** Searching published Observations, as they stood at a stamp. */
import type { Pool } from 'pg';
import { canMeet, conditionSql, heldSql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { READING_DICTIONARIES } from './reading-rows.js';
import {
  READING_ID,
  SHOWN,
  SHOWN_COLUMNS,
  fromShown,
  hasSql,
  orderOf,
  rowSql,
  rowsOf,
  shownBy,
  toObservationVersion,
} from './shown-observations.js';
import type {
  Branch,
  ObservationVersion,
  OrderKey,
  Shown,
  ShownRow,
} from './shown-observations.js';
import { SqlValues } from './sql-values.js';

/** One thing to sort by. The id parts what is equal in all of them, so that nothing follows it. */
export interface SortKey {
  readonly by: 'taken' | 'stamp' | 'id';
  readonly descending: boolean;
}

/** The last row of the page before: the times that it was sorted by, and its id. */
export interface SearchPosition {
  readonly keysMs: readonly number[];
  readonly id: string;
}

/** The state of the site that a search is answered from. */
export interface SearchMoment {
  /** Every page of one search sees the Observations that were the newest at this stamp. */
  readonly asOfMs: number;
  /** As what rows may be shown then. */
  readonly shown: readonly Shown[];
}

export interface ObservationSearch extends SearchMoment {
  readonly conditions: readonly ObservationCondition[];
}

export interface ObservationPage extends ObservationSearch {
  readonly sort: readonly SortKey[];
  readonly after: SearchPosition | null;
  readonly limit: number;
}

/**
 * The present state. In one statement, so that whoever sees a commit sees the edition that asked for what
 * it calculated: where no edition ever did, nothing is looked for.
 */
export async function readSearchMoment(pool: Pool): Promise<SearchMoment> {
  const { rows } = await pool.query<{ last: string; derives: boolean }>({
    name: 'read-search-moment',
    text: `select (extract(epoch from last_stamp) * 1000)::bigint::text as last,
                  exists (select from editions where in_force_from is not null
                            and configuration @> '{"derivedValues": {"enabled": true}}') as derives
             from publication_clock`,
  });
  const found = rows[0];
  if (found === undefined) throw new Error('publication_clock has lost its row');
  return { asOfMs: Number(found.last), shown: found.derives ? SHOWN : MEASURED };
}

const MEASURED = ['reading', 'panel'] as const;

const SORT_COLUMNS = { taken: 'r.effective_at', stamp: 'r.stamp', id: READING_ID } as const;

/** The matches of one page, at most `limit`, in order. */
export async function findObservations(
  pool: Pool,
  page: ObservationPage,
): Promise<ObservationVersion[]> {
  const values = new SqlValues();
  const branches = branchesOf(page, values).map(({ shown, demands }) => ({
    shown,
    demands: [...demands, ...beyond(page, shown, values)],
  }));
  const { rows } = await pool.query<ShownRow>(
    `select ${SHOWN_COLUMNS}
       from ${fromShown(branches, orderKeys(page.sort), values.bind(page.limit))}`,
    values.list,
  );
  return rows.map(toObservationVersion);
}

/**
 * The newest measurements of each patient and code that match, at most `max` of each and those of the same
 * time as the last of them; newest first within a code, in the order of the ids where times are equal.
 *
 * A code is a sign, a kind of calculated value, or that of panels: no two of them share a code.
 */
export async function findLatest(
  pool: Pool,
  search: ObservationSearch,
  { max, limit }: { readonly max: number; readonly limit: number },
): Promise<ObservationVersion[]> {
  const values = new SqlValues();
  const branches = branchesOf(search, values).map(
    ({ shown, demands }) =>
      `select ${rowSql(shown)}, '${shown}' as shown, ${SHOWN.indexOf(shown)} as rank,
              rank() over (partition by r.patient_key, r.vital order by r.effective_at desc) as place
         from ${rowsOf(shown)} where ${demands.join(' and ')}`,
  );
  const order = 'r.patient_key, r.vital, r.rank, r.effective_at desc, r.reading_id desc';
  const { rows } = await pool.query<ShownRow>(
    `select ${SHOWN_COLUMNS}
       from (select * from (${branches.join(' union all ')}) r
              where r.place <= ${values.bind(max, 'bigint')}
              order by ${order} limit ${values.bind(limit)}) r
            ${READING_DICTIONARIES} order by ${order}`,
    values.list,
  );
  return rows.map(toObservationVersion);
}

/** How many Observations match. */
export async function countObservations(pool: Pool, search: ObservationSearch): Promise<number> {
  const values = new SqlValues();
  return count(pool, branchesOf(search, values), values);
}

/**
 * How many readings are held and unpublished now, of those that the demands on patient, sign and
 * time taken would let through. The other demands are about what only an Observation has.
 */
export async function countHeldReadings(
  pool: Pool,
  { conditions, asOfMs }: Omit<ObservationSearch, 'shown'>,
): Promise<number> {
  const values = new SqlValues();
  const demands = [
    'r.hold is not null and r.superseded is null and r.status is null',
    ...heldSql(conditions, asOfMs, values),
  ];
  return count(pool, [{ shown: 'reading', demands }], values);
}

async function count(pool: Pool, branches: readonly Branch[], values: SqlValues): Promise<number> {
  const counts = branches.map(
    ({ shown, demands }) =>
      `(select count(*)::int from ${rowsOf(shown)} where ${demands.join(' and ')})`,
  );
  const { rows } = await pool.query<{ count: number }>(
    `select ${counts.join(' + ')} as count`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}

/** What can match at all, each with its demands; never none. */
function branchesOf(search: ObservationSearch, values: SqlValues): Branch[] {
  const { conditions, asOfMs } = search;
  const shown = search.shown.filter((one) => conditions.every((each) => canMeet(each, one)));
  return (shown.length === 0 ? (['reading'] as const) : shown).map((one) => ({
    shown: one,
    demands: [
      newestAt(asOfMs, values),
      ...(one === 'reading' || one === 'panel' ? [] : [hasSql(one)]),
      ...conditions.map((condition) =>
        canMeet(condition, one) ? conditionSql(condition, { shown: one, asOfMs }, values) : 'false',
      ),
    ],
  }));
}

function newestAt(asOfMs: number, values: SqlValues): string {
  const asOf = values.bindTime(asOfMs);
  return `r.stamp <= ${asOf} and (r.superseded is null or r.superseded > ${asOf}) and r.status is not null`;
}

/** The columns of the order, whole: by the id in the end, in the direction of what came before it. */
function orderKeys(sort: readonly SortKey[]): OrderKey[] {
  const keys = sort.map(({ by, descending }): OrderKey => ({
    column: SORT_COLUMNS[by],
    direction: descending ? 'desc' : 'asc',
  }));
  const last = keys.at(-1);
  const isWhole = last?.column === READING_ID;
  return isWhole ? keys : [...keys, { column: READING_ID, direction: last?.direction ?? 'asc' }];
}

/** After the last row of the page before. What was shown there as one thing may still come as another. */
function beyond({ after, sort }: ObservationPage, shown: Shown, values: SqlValues): string[] {
  const last = after === null ? null : shownBy(after.id);
  if (after === null || last === null) return [];
  const order = orderKeys(sort);
  const places = order.map(({ column }, i) =>
    column === READING_ID ? values.bind(last.rowId, 'uuid') : values.bindTime(after.keysMs[i] ?? 0),
  );
  const byId = order.at(-1)?.direction === 'desc' ? -1 : 1;
  const stillToCome = orderOf(shown, last.as) * byId > 0;
  const [first] = order;
  if (order.every(({ direction }) => direction === first?.direction)) {
    const columns = order.map(({ column }) => column).join(', ');
    const comparison = (first?.direction === 'desc' ? '<' : '>') + (stillToCome ? '=' : '');
    return [`(${columns}) ${comparison} (${places.join(', ')})`];
  }
  return [mixedBeyond(order, places, stillToCome)];
}

/** Behind a row in an order that goes up by one column and down by another. */
function mixedBeyond(
  order: readonly OrderKey[],
  places: readonly string[],
  stillToCome: boolean,
): string {
  const comparison = ({ column, direction }: OrderKey, i: number, orEqual: boolean): string =>
    `${column} ${direction === 'desc' ? '<' : '>'}${orEqual ? '=' : ''} ${places[i] ?? ''}`;
  const alternatives = order.map((key, i) => {
    const same = order.slice(0, i).map(({ column }, at) => `${column} = ${places[at] ?? ''}`);
    return [...same, comparison(key, i, stillToCome && i === order.length - 1)].join(' and ');
  });
  const [first] = order;
  // So that an index on the first column may be used.
  const bound = first === undefined ? 'true' : comparison(first, 0, true);
  return `(${bound} and ((${alternatives.join(') or (')})))`;
}
