/** Readings by hand, each with the reading by a device that measured the same on the same patient. */
import type { Pool } from 'pg';
import type { DeviceReport } from '../vitals/device-report.js';
import type { Identifier } from '../vitals/shapes.js';
import type { HoldKind, ObservationStatus, Verdict } from '../vitals/words.js';
import { boundSearch } from './review-bounds.js';
import { placeSql } from './review-search.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

/** Pressures by stethoscope against automatic cuff; pulse by touch against oximeter. */
export type ComparedSign = 'blood-pressure' | 'pulse-rate';

export interface PairSearch {
  readonly sign: ComparedSign;
  /** When it was measured by hand: from (inclusive) to (exclusive), ms since the epoch. */
  readonly fromMs: number;
  readonly toMs: number;
  /** So far apart in time two readings are of one moment. */
  readonly windowMs: number;
  readonly device?: Identifier | undefined;
  /** This place and every place inside it. */
  readonly place?: string | undefined;
  /** The id of the person who measured by hand. */
  readonly personId?: string | undefined;
}

/** One of two readings, as it stands. A pressure has one part at least, a pulse its rate. */
export interface PairSide {
  readonly takenAtMs: number;
  readonly offsetMinutes: number;
  readonly rate: number | null;
  readonly systolic: number | null;
  readonly diastolic: number | null;
  readonly verdict: Verdict;
  readonly hold: HoldKind | null;
  readonly status: ObservationStatus | null;
  /** Rejected, and not by the rules alone. */
  readonly rejectedByPerson: boolean;
  readonly report: DeviceReport | undefined;
}

export interface ComparedPair {
  /** Tells patients apart, and means nothing elsewhere. */
  readonly patient: number;
  readonly byHand: PairSide;
  readonly byDevice: PairSide;
  readonly device: Identifier | null;
  /** The place one step above where it was measured, or that place itself. */
  readonly ward: string | null;
  readonly personId: string | null;
  readonly person: Identifier | null;
}

export interface FoundPairs {
  /** Oldest first. */
  readonly pairs: readonly ComparedPair[];
  /** Only the newest readings by hand were looked at; these are since then, in ms since the epoch. */
  readonly onlySinceMs: number | null;
}

/**
 * Readings by hand that one search looks at, at most: the newest. Among a million readings either takes a
 * second or two; a search for one device finds few pairs among many.
 */
export const MOST_BY_HAND = { ofAll: 20_000, ofOneDevice: 100_000 } as const;

function mostOf({ device }: PairSearch): number {
  return device === undefined ? MOST_BY_HAND.ofAll : MOST_BY_HAND.ofOneDevice;
}

const METHODS = {
  'blood-pressure': { byHand: 'auscultation', byDevice: 'oscillometry' },
  'pulse-rate': { byHand: 'palpation', byDevice: 'pulse-oximetry' },
} as const;

/** A place without its last step: the ward of a bed. */
export const WARD_SQL = "regexp_replace(l.path, '(.)/[^/]*$', '\\1')";

interface SideRow {
  taken: Date;
  offset: number;
  rate: string | null;
  systolic: string | null;
  diastolic: string | null;
  verdict: Verdict;
  hold: HoldKind | null;
  status: ObservationStatus | null;
  rejected_by_person: boolean;
  report: DeviceReport | null;
}

type Prefixed<Prefix extends string, Row> = {
  [Key in keyof Row as `${Prefix}_${Key & string}`]: Row[Key];
};

type PairRow = Prefixed<'a', SideRow> &
  Prefixed<'b', SideRow> & {
    looked: number;
    since: Date | null;
    /** Null: the row stands for no pair. */
    patient: number | null;
    device_reading: string;
    same_set: boolean;
    device_system: string | null;
    device_value: string | null;
    ward: string | null;
    person_id: string | null;
    person_system: string | null;
    person_value: string | null;
  };

function sideColumns(table: 'a' | 'b'): string {
  return `${table}.effective_at as ${table}_taken, ${table}.offset_minutes as ${table}_offset,
    ${table}.amount as ${table}_rate, ${table}.systolic as ${table}_systolic,
    ${table}.diastolic as ${table}_diastolic, ${table}.verdict as ${table}_verdict,
    ${table}.hold as ${table}_hold, ${table}.status as ${table}_status,
    ${table}.report as ${table}_report,
    ${table}.verdict = 'rejected' and exists (
      select from decisions d where d.reading_id = ${table}.reading_id) as ${table}_rejected_by_person`;
}

const READ = `reading_id, patient_key, effective_at, offset_minutes, set_id, recorder_key, device_key,
  place_key, site, side, position, amount, systolic, diastolic, verdict, hold, status, report`;
const HAS_NUMBER = 'coalesce(amount, systolic, diastolic) is not null';

/** Same arm, place and position as far as both tell, as the rules compare pressures. */
const SAME_ARM = `(b.side is null or a.side is null or b.side = a.side)
  and (b.site is null or a.site is null or b.site = a.site)
  and (b.position is null or a.position is null or b.position = a.position)`;

/** Standing before taken back, the same set before another, near before far. */
const NEAREST = `b.verdict = 'rejected' or b.status is not distinct from 'entered-in-error',
  b.set_id is distinct from a.set_id, abs(extract(epoch from b.effective_at - a.effective_at))`;

/** What every reading by hand must be, whether or not it finds its other half. */
function byHandSql({ sign, place, personId, ...times }: PairSearch, values: SqlValues): string {
  return [
    `superseded is null and vital = '${sign}' and method = '${METHODS[sign].byHand}'`,
    HAS_NUMBER,
    timeRangeSql('effective_at', times, values),
    ...(place === undefined ? [] : [placeSql('place_key', place, values)]),
    ...(personId === undefined ? [] : [personSql(personId, values)]),
  ].join(' and ');
}

export function personSql(personId: string, values: SqlValues): string {
  const id = values.bind(personId, 'uuid');
  return `recorder_key = (select person_key from people where person_id = ${id})`;
}

function deviceSql({ system, value }: Identifier, values: SqlValues): string {
  return `b.device_key = (select device_key from devices
    where system = ${values.bind(system)} and value = ${values.bind(value)})`;
}

/** One row a pair, and one row where there is none: each tells how many readings by hand were looked at. */
function pairsSql(search: PairSearch, values: SqlValues): string {
  const { sign, device, windowMs } = search;
  const window = `${values.bind(`${String(windowMs)} milliseconds`)}::interval`;
  const sameArm = sign === 'blood-pressure' ? SAME_ARM : 'true';
  return `with a as materialized (
      select ${READ} from readings where ${byHandSql(search, values)}
       order by effective_at desc limit ${values.bind(mostOf(search))})
    select s.looked, s.since, p.*
      from (select count(*)::int as looked, min(effective_at) as since from a) s
      left join (
        select a.patient_key as patient, b.reading_id as device_reading,
            a.set_id is not distinct from b.set_id as same_set,
            ${sideColumns('a')}, ${sideColumns('b')},
            d.system as device_system, d.value as device_value, ${WARD_SQL} as ward,
            w.person_id, w.system as person_system, w.value as person_value
          from a
          join lateral (
            select ${READ} from readings b
             where b.patient_key = a.patient_key
               and b.effective_at between a.effective_at - ${window} and a.effective_at + ${window}
               and b.superseded is null and b.vital = '${sign}'
               and b.method = '${METHODS[sign].byDevice}' and ${HAS_NUMBER} and ${sameArm}
               ${device === undefined ? '' : `and ${deviceSql(device, values)}`}
             order by ${NEAREST} limit 1) b on true
          left join devices d on d.device_key = b.device_key
          left join places l on l.place_key = a.place_key
          left join people w on w.person_key = a.recorder_key) p on true
     order by p.a_taken`;
}

function numberOf(text: string | null): number | null {
  return text === null ? null : Number(text);
}

function sideOf(row: PairRow, side: 'a' | 'b'): PairSide {
  return {
    takenAtMs: row[`${side}_taken`].getTime(),
    offsetMinutes: row[`${side}_offset`],
    rate: numberOf(row[`${side}_rate`]),
    systolic: numberOf(row[`${side}_systolic`]),
    diastolic: numberOf(row[`${side}_diastolic`]),
    verdict: row[`${side}_verdict`],
    hold: row[`${side}_hold`],
    status: row[`${side}_status`],
    rejectedByPerson: row[`${side}_rejected_by_person`],
    report: row[`${side}_report`] ?? undefined,
  };
}

function identifierOf(system: string | null, value: string | null): Identifier | null {
  return system === null || value === null ? null : { system, value };
}

function pairOf(row: PairRow, patient: number): ComparedPair {
  return {
    patient,
    byHand: sideOf(row, 'a'),
    byDevice: sideOf(row, 'b'),
    device: identifierOf(row.device_system, row.device_value),
    ward: row.ward,
    personId: row.person_id,
    person: identifierOf(row.person_system, row.person_value),
  };
}

function distanceMs(row: PairRow): number {
  return row.same_set ? -1 : Math.abs(row.a_taken.getTime() - row.b_taken.getTime());
}

/** Of the pairs in which one reading by a device stands, the nearest. */
function withoutDoubles(rows: readonly PairRow[]): PairRow[] {
  const nearest = new Map<string, PairRow>();
  for (const row of rows) {
    const other = nearest.get(row.device_reading);
    if (other === undefined || distanceMs(row) < distanceMs(other)) {
      nearest.set(row.device_reading, row);
    }
  }
  return rows.filter((row) => nearest.get(row.device_reading) === row);
}

/**
 * Each reading by hand with the one by a device that is nearest: of the same set, else within the window.
 * Held, rejected and withdrawn ones come along, told as such: what is kept from the record must not hide how
 * far apart the methods are. No reading by a device stands in two pairs.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function findComparedPairs(pool: Pool, search: PairSearch): Promise<FoundPairs> {
  const values = new SqlValues();
  const { rows } = await boundSearch(pool.query<PairRow>(pairsSql(search, values), values.list));
  const [first] = rows;
  const paired = withoutDoubles(rows.filter(({ patient }) => patient !== null));
  return {
    pairs: paired.map((row) => pairOf(row, row.patient ?? 0)),
    onlySinceMs: first?.looked === mostOf(search) ? (first.since?.getTime() ?? null) : null,
  };
}
