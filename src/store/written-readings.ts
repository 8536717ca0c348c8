/** What people measured by hand and wrote down, for the habits that show in it. */
import type { Pool } from 'pg';
import type { Entered } from '../vitals/shapes.js';
import type { Identifier } from '../vitals/identifier.js';
import type { Method, Vital } from '../vitals/words.js';
import { WARD_SQL, personSql } from './agreement-pairs.js';
import { receivedAtMsOf, submissionOf } from './reading-rows.js';
import { boundSearch } from './review-bounds.js';
import { placeSql } from './review-search.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

export interface HabitSearch {
  /** When it was measured: from (inclusive) to (exclusive), ms since the epoch. */
  readonly fromMs: number;
  readonly toMs: number;
  readonly place?: string | undefined;
  readonly personId?: string | undefined;
}

/** Who wrote something down, and where. */
interface Written {
  readonly personId: string;
  readonly person: Identifier;
  readonly ward: string | null;
}

export interface WrittenReading extends Written {
  readonly submissionId: string;
  readonly takenAtMs: number;
  readonly receivedAtMs: number;
  readonly vital: Vital;
  readonly method: Method;
  readonly rate: number | null;
  readonly systolic: number | null;
  readonly diastolic: number | null;
  /** What was typed, where that is not the stored number and unit. */
  readonly entered: Entered | null;
}

export interface SetAsWritten extends Written {
  readonly patient: number;
  readonly takenAtMs: number;
  /** The numbers by sign and method, as text. */
  readonly numbers: Readonly<Record<string, string>>;
}

/** What one search looks at, at most: the newest. */
export const MOST_WRITTEN = 30_000;
export const MOST_SETS = 10_000;

/** Rows found; all of them, or the newest since then. */
export interface Newest<T> {
  readonly rows: readonly T[];
  readonly onlySinceMs: number | null;
}

/**
 * By the index `readings_by_hand`. Whatever became of a reading it was written so: rejected and withdrawn ones
 * count; a corrected one counts as corrected.
 */
function writtenSql({ place, personId, ...times }: HabitSearch, values: SqlValues): string {
  return [
    "superseded is null and method in ('auscultation', 'palpation', 'counted')",
    'recorder_key is not null',
    timeRangeSql('effective_at', times, values),
    ...(place === undefined ? [] : [placeSql('place_key', place, values)]),
    ...(personId === undefined ? [] : [personSql(personId, values)]),
  ].join(' and ');
}

interface WhoRow {
  person_id: string;
  person_system: string;
  person_value: string;
  ward: string | null;
  taken: Date;
}

const WHO_COLUMNS = `w.person_id, w.system as person_system, w.value as person_value, ${WARD_SQL} as ward`;

function writtenBy(row: WhoRow): Written & { readonly takenAtMs: number } {
  return {
    personId: row.person_id,
    person: { system: row.person_system, value: row.person_value },
    ward: row.ward,
    takenAtMs: row.taken.getTime(),
  };
}

function newestOf<T extends { readonly takenAtMs: number }>(rows: T[], most: number): Newest<T> {
  return { rows, onlySinceMs: rows.length < most ? null : (rows.at(-1)?.takenAtMs ?? null) };
}

/**
 * Pressures by stethoscope, pulses by touch or stethoscope, and counted breaths that people sent, newest first.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function findWrittenReadings(
  pool: Pool,
  search: HabitSearch,
): Promise<Newest<WrittenReading>> {
  const values = new SqlValues();
  const text = `select r.reading_id, r.effective_at as taken, r.vital, r.method, r.amount::float8 as rate,
      r.systolic::float8, r.diastolic::float8, r.entered, ${WHO_COLUMNS}
    from (select reading_id, effective_at, vital, method, amount, systolic, diastolic, entered,
            recorder_key, place_key
            from readings where ${writtenSql(search, values)}
           order by effective_at desc limit ${values.bind(MOST_WRITTEN)}) r
    join people w on w.person_key = r.recorder_key
    left join places l on l.place_key = r.place_key
   order by r.effective_at desc`;
  type Row = WhoRow & Pick<WrittenReading, 'vital' | 'method' | 'entered'> & Numbers;
  const { rows } = await boundSearch(pool.query<Row>(text, values.list));
  const written = rows.map((row) => ({
    ...writtenBy(row),
    submissionId: submissionOf(row.reading_id),
    receivedAtMs: receivedAtMsOf(row.reading_id),
    vital: row.vital,
    method: row.method,
    rate: row.rate,
    systolic: row.systolic,
    diastolic: row.diastolic,
    entered: row.entered,
  }));
  return newestOf(written, MOST_WRITTEN);
}

interface Numbers extends Pick<WrittenReading, 'rate' | 'systolic' | 'diastolic'> {
  reading_id: string;
}

/**
 * The sets of which those readings are a part, newest first, with all numbers that were measured at that
 * moment. A sign measured twice by one method has one number here: two would never be alike.
 *
 * @throws SearchTooBroad when the database does not come to an end with it in time.
 */
export async function findSetsAsWritten(
  pool: Pool,
  search: HabitSearch,
): Promise<Newest<SetAsWritten>> {
  const values = new SqlValues();
  const text = `select s.patient_key as patient, s.effective_at as taken, ${WHO_COLUMNS},
      (select jsonb_object_agg(r.vital || coalesce(' ' || r.method, ''),
                concat_ws('/', r.amount, r.systolic, r.diastolic))
         from readings r
        where r.patient_key = s.patient_key and r.effective_at = s.effective_at
          and r.superseded is null and r.recorder_key = s.recorder_key
          and coalesce(r.amount, r.systolic, r.diastolic) is not null) as numbers
    from (select distinct patient_key, effective_at, recorder_key, place_key
            from (select patient_key, effective_at, recorder_key, place_key
                    from readings where ${writtenSql(search, values)}
                   order by effective_at desc limit ${values.bind(MOST_WRITTEN)}) n
           order by effective_at desc limit ${values.bind(MOST_SETS)}) s
    join people w on w.person_key = s.recorder_key
    left join places l on l.place_key = s.place_key
   order by s.effective_at desc`;
  type Row = WhoRow & { patient: number; numbers: Record<string, string> | null };
  const { rows } = await boundSearch(pool.query<Row>(text, values.list));
  const sets = rows.map((row) => ({
    ...writtenBy(row),
    patient: row.patient,
    numbers: row.numbers ?? {},
  }));
  return newestOf(sets, MOST_SETS);
}
