/** Searching published Observations, as they stood at a stamp. */
import { LATE_AFTER_MS } from '../vitals/late-arrival.js';
import type { Pool } from 'pg';
import type { IdentifierToken } from './find-patients.js';
import type { ReadingVersion } from '../vitals/shapes.js';
import type { Method, ObservationStatus, Part, Site, Vital } from '../vitals/words.js';
import {
  READING_COLUMNS,
  READING_DICTIONARIES,
  readingId,
  toReadingVersion,
} from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

/** From (inclusive) to (exclusive), in ms since the epoch; null: without end. */
export interface TimeRange {
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

/** Readings of one sign; methods and sites null: whatever they are. */
export interface ReadingKind {
  readonly vital: Vital;
  readonly methods: readonly (Method | null)[] | null;
  readonly sites: readonly (Site | null)[] | null;
  /** Only readings that have a value for this part. */
  readonly part: Part | null;
}

/** A reading by the set that its sender named. */
export interface PlaceInSet {
  readonly setId: string;
  readonly index: number;
}

/** One demand on a reading; its list holds alternatives, so that an empty one is met by nothing. */
export type ObservationCondition =
  | { readonly on: 'patient'; readonly ids: readonly string[] }
  | { readonly on: 'id'; readonly ids: readonly string[] }
  | { readonly on: 'kind'; readonly kinds: readonly ReadingKind[] }
  | { readonly on: 'taken'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'stamp'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'status'; readonly statuses: readonly ObservationStatus[] }
  | {
      readonly on: 'doubt';
      readonly doubts: readonly (
        'unreviewed' | 'unconfirmed' | 'doubtful-signal' | 'late-arrival'
      )[];
    }
  | {
      readonly on: 'place-in-set';
      readonly places: readonly PlaceInSet[];
      /** Identifiers of their senders: as good as a place. */
      readonly named: readonly IdentifierToken[];
    };

export interface ObservationSort {
  readonly by: 'taken' | 'stamp' | 'id';
  readonly descending: boolean;
}

/** The last row of the page before. `keyMs` is what it was sorted by; 0 when sorted by id alone. */
export interface SearchPosition {
  readonly keyMs: number;
  readonly id: string;
}

export interface ObservationSearch {
  readonly conditions: readonly ObservationCondition[];
  /** Every page of one search sees the Observations that were the newest at this stamp. */
  readonly asOfMs: number;
}

export interface ObservationPage extends ObservationSearch {
  readonly sort: ObservationSort;
  readonly after: SearchPosition | null;
  readonly limit: number;
}

const SORT_COLUMNS = { taken: 'r.effective_at', stamp: 'r.stamp', id: null } as const;

/** The matches of one page, at most `limit`, in order. */
export async function findObservations(
  pool: Pool,
  { conditions, asOfMs, sort, after, limit }: ObservationPage,
): Promise<ReadingVersion[]> {
  const values = new SqlValues();
  const column = SORT_COLUMNS[sort.by];
  const direction = sort.descending ? 'desc' : 'asc';
  const demands = [
    newestAt(asOfMs, values),
    ...conditions.map((one) => sqlOf(one, asOfMs, values)),
  ];
  if (after !== null) demands.push(beyond(after, column, sort.descending, values));
  const columns = [...(column === null ? [] : [column]), 'r.reading_id'];
  const order = columns.map((one) => `${one} ${direction}`).join(', ');
  // The page first, then its names: so no dictionary is looked at for rows that are not shown.
  const { rows } = await pool.query<ReadingRow>(
    `select ${READING_COLUMNS}
       from (select r.* from readings r where ${demands.join(' and ')}
              order by ${order} limit ${values.bind(limit)}) r ${READING_DICTIONARIES}
      order by ${order}`,
    values.list,
  );
  return rows.map(toReadingVersion);
}

/** How many Observations match. */
export async function countObservations(
  pool: Pool,
  { conditions, asOfMs }: ObservationSearch,
): Promise<number> {
  const values = new SqlValues();
  const demands = [
    newestAt(asOfMs, values),
    ...conditions.map((one) => sqlOf(one, asOfMs, values)),
  ];
  return count(pool, demands, values);
}

/**
 * How many readings are held and unpublished now, of those that the demands on patient, sign and
 * time taken would let through. The other demands are about what only an Observation has.
 */
export async function countHeldReadings(
  pool: Pool,
  { conditions, asOfMs }: ObservationSearch,
): Promise<number> {
  const values = new SqlValues();
  const applied = conditions.filter(
    ({ on }) => on === 'patient' || on === 'kind' || on === 'taken',
  );
  const demands = [
    'r.hold is not null and r.superseded is null and r.status is null',
    ...applied.map((one) => sqlOf(one, asOfMs, values)),
  ];
  return count(pool, demands, values);
}

async function count(pool: Pool, demands: readonly string[], values: SqlValues): Promise<number> {
  const { rows } = await pool.query<{ count: number }>(
    `select count(*)::int as count from readings r where ${demands.join(' and ')}`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}

function newestAt(asOfMs: number, values: SqlValues): string {
  const asOf = values.bindTime(asOfMs);
  return `r.stamp <= ${asOf} and (r.superseded is null or r.superseded > ${asOf}) and r.status is not null`;
}

function beyond(
  after: SearchPosition,
  column: string | null,
  descending: boolean,
  values: SqlValues,
): string {
  const comparison = descending ? '<' : '>';
  const id = values.bind(after.id, 'uuid');
  return column === null
    ? `r.reading_id ${comparison} ${id}`
    : `(${column}, r.reading_id) ${comparison} (${values.bindTime(after.keyMs)}, ${id})`;
}

function sqlOf(condition: ObservationCondition, asOfMs: number, values: SqlValues): string {
  switch (condition.on) {
    case 'patient':
      return patientSql(condition.ids, asOfMs, values);
    case 'id':
      return `r.reading_id = any(${values.bind(condition.ids, 'uuid[]')})`;
    case 'kind':
      return anyOf(condition.kinds.map((kind) => kindSql(kind, values)));
    case 'taken':
      return anyOf(condition.ranges.map((range) => timeRangeSql('r.effective_at', range, values)));
    case 'stamp':
      return anyOf(condition.ranges.map((range) => timeRangeSql('r.stamp', range, values)));
    case 'status':
      return `r.status = any(${values.bind(condition.statuses, 'observation_status[]')})`;
    case 'doubt':
      return anyOf(condition.doubts.map((doubt) => DOUBT_SQL[doubt]));
    case 'place-in-set':
      return idsSql(condition, values);
  }
}

function anyOf(alternatives: readonly string[]): string {
  return alternatives.length === 0 ? 'false' : `(${alternatives.join(' or ')})`;
}

/**
 * One patient is compared as such, so that the primary key delivers the rows in order of time. Who was
 * merged into another by then stands for that one.
 */
function patientSql(ids: readonly string[], asOfMs: number, values: SqlValues): string {
  const keys = `select case when merged_stamp <= ${values.bindTime(asOfMs)} then merged_into else patient_key end
                  from patients where patient_id = any(${values.bind(ids, 'uuid[]')})`;
  return ids.length === 1 ? `r.patient_key = (${keys})` : `r.patient_key = any(array(${keys}))`;
}

function kindSql({ vital, methods, sites, part }: ReadingKind, values: SqlValues): string {
  const demands = [`r.vital = ${values.bind(vital, 'vital')}`];
  if (methods !== null) demands.push(amongSql('r.method', methods, values));
  if (sites !== null) demands.push(amongSql('r.site', sites, values));
  if (part !== null) demands.push(`r.${PART_COLUMNS[part]} is not null`);
  return `(${demands.join(' and ')})`;
}

const PART_COLUMNS: Readonly<Record<Part, string>> = {
  value: 'amount',
  systolic: 'systolic',
  diastolic: 'diastolic',
  mean: 'mean',
};

function amongSql(column: string, words: readonly (string | null)[], values: SqlValues): string {
  const named = words.filter((word) => word !== null);
  const list = `${column}::text = any(${values.bind(named, 'text[]')})`;
  return words.includes(null) ? `(${column} is null or ${list})` : list;
}

/** What a tag says; when a reading arrived stands in the first 48 bits of its id (RFC 9562 §5.7). */
const DOUBT_SQL = {
  unconfirmed: "(r.status = 'preliminary' and r.verdict = 'held')",
  unreviewed: `(r.status = 'preliminary' and r.verdict <> 'held'
                and (r.report ->> 'reviewed') is distinct from 'true')`,
  'doubtful-signal': "(r.status = 'preliminary' and r.report -> 'signal' -> 0 is not null)",
  'late-arrival': `(r.effective_at < to_timestamp((('x' || left(replace(r.reading_id::text, '-', ''), 12))::bit(48)::bigint
                    - ${LATE_AFTER_MS}) / 1000.0))`,
} as const;

/** By way of the submission that holds the set's key: a reading's id follows from it and the place. */
function placeSql(places: readonly PlaceInSet[], values: SqlValues): string {
  const sets = values.bind(
    places.map(({ setId }) => setId),
    'uuid[]',
  );
  const suffixes = values.bind(
    places.map(({ index }) => readingId('', index)),
    'text[]',
  );
  return `select (left(s.submission_id::text, -4) || n.suffix)::uuid
            from unnest(${sets}, ${suffixes}) as n(set_id, suffix)
            join submissions s on s.set_id = n.set_id and s.holds_key`;
}

function namedSql({ system, value }: IdentifierToken, values: SqlValues): string {
  const demands = [
    ...(system === null ? [] : [`i.system = ${values.bind(system)}`]),
    ...(value === null ? [] : [`i.value = ${values.bind(value)}`]),
  ];
  return `select i.reading_id from observation_identifiers i where ${demands.join(' and ')}`;
}

/** The ids first, as one list: alternatives of two kinds would have every row looked at. */
function idsSql(
  { places, named }: Extract<ObservationCondition, { on: 'place-in-set' }>,
  values: SqlValues,
): string {
  const ids = [placeSql(places, values), ...named.map((token) => namedSql(token, values))];
  return `r.reading_id = any(array(${ids.join(' union all ')}))`;
}
