/**
 * The events of a subscription: published versions that its topic and filters want, numbered in the order
 * of publication. A number once given stays with its version; the versions themselves never change.
 */
import type { Pool, PoolClient } from 'pg';
import { canMeet, conditionSql, statusSql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { READING_COLUMNS, READING_DICTIONARIES } from './reading-rows.js';
import {
  SHOWN,
  SHOWN_OF_READINGS,
  hasSql,
  publishedBefore,
  rowSql,
  rowsOf,
  toObservationVersion,
} from './shown-observations.js';
import type { ObservationVersion, Shown, ShownRow } from './shown-observations.js';
import { SqlValues } from './sql-values.js';
import type { EventCursor } from './subscription-work.js';
import { inTransaction } from './transaction.js';

/** What a version is to those who follow: the first one, one that changes it, or its withdrawal. */
export const OCCASIONS = ['new', 'corrected', 'withdrawn'] as const;
export type Occasion = (typeof OCCASIONS)[number];

/** An event with the version that it is about. */
export interface SubscriptionEvent {
  readonly eventNumber: number;
  readonly occasion: Occasion;
  readonly version: ObservationVersion;
  /** Whose it is: for the audit trail. */
  readonly patientKey: number;
}

/** Rows of readings and panels that one look goes over, however few of them are wanted. */
const WINDOW_ROWS = 1_000;

/** What is wanted of the versions after a cursor, up to a stamp. */
export interface EventWish {
  readonly cursor: EventCursor;
  readonly asOfMs: number;
  readonly occasions: readonly Occasion[];
  readonly conditions: readonly ObservationCondition[];
}

interface WindowRow {
  stamp_ms: number;
  reading_id: string;
  version: number;
  wanted: string;
  nth: number;
}

interface FoundEvent {
  readonly stampMs: number;
  readonly readingId: string;
  readonly version: number;
  readonly shown: string;
  readonly occasion: string;
}

function occasionSql(shown: Shown): string {
  return `case when not ${publishedBefore(shown)} then 'new'
               when ${statusSql(shown)} = 'entered-in-error' then 'withdrawn' else 'corrected' end`;
}

/** As what a row is wanted, and on which occasion: `kind/occasion` joined by commas. */
function wantedSql(
  { conditions, asOfMs }: EventWish,
  possible: readonly Shown[],
  values: SqlValues,
): string {
  const cases = possible.map((shown) => {
    const demands = [
      ...(shown === 'reading' || shown === 'panel' ? [] : [hasSql(shown)]),
      ...conditions.map((one) => conditionSql(one, { shown, asOfMs }, values)),
    ];
    const met = demands.length === 0 ? 'true' : demands.join(' and ');
    return `case when ${met} then '${shown}/' || ${occasionSql(shown)} end`;
  });
  return cases.length === 0 ? "''" : `concat_ws(',', ${cases.join(', ')})`;
}

function afterSql({ stampMs, reading }: EventCursor, values: SqlValues): string {
  const stamp = values.bindTime(stampMs);
  return reading === null
    ? `r.stamp > ${stamp}`
    : `(r.stamp, r.reading_id, r.version) > (${stamp}, ${values.bind(reading.id, 'uuid')}, ${values.bind(reading.version, 'smallint')})`;
}

const ORDER = 'r.stamp, r.reading_id, r.version';

/** The next rows of readings, and of panels where these can be wanted at all: each is some window's row. */
function windowSql(wish: EventWish, values: SqlValues): string {
  const possible = SHOWN.filter((shown) => wish.conditions.every((one) => canMeet(one, shown)));
  const ofReadings = SHOWN_OF_READINGS.filter((shown) => possible.includes(shown));
  const tables: [Shown, readonly Shown[]][] = [['reading', ofReadings]];
  if (possible.includes('panel')) tables.push(['panel', ['panel']]);
  const selects = tables.map(
    ([of, shown]) =>
      `(select r.stamp, r.reading_id, r.version, ${wantedSql(wish, shown, values)} as wanted
          from ${rowsOf(of)}
         where r.stamp <= ${values.bindTime(wish.asOfMs)} and r.status is not null
           and ${afterSql(wish.cursor, values)}
         order by ${ORDER} limit ${WINDOW_ROWS})`,
  );
  return selects.join(' union all ');
}

/** The events in the next window of rows, and where it ends. The row that fills it is told even if unwanted. */
async function findEvents(
  client: PoolClient,
  wish: EventWish,
): Promise<{ events: FoundEvent[]; cursor: EventCursor }> {
  const values = new SqlValues();
  const { rows } = await client.query<WindowRow>(
    `select r.stamp_ms, r.reading_id, r.version, r.wanted, r.nth
       from (select (extract(epoch from r.stamp) * 1000)::bigint as stamp_ms, r.reading_id, r.version,
                    r.wanted, row_number() over (order by ${ORDER}) as nth
               from (${windowSql(wish, values)}) r
              order by ${ORDER} limit ${WINDOW_ROWS}) r
      where r.wanted <> '' or r.nth = ${WINDOW_ROWS} order by r.nth`,
    values.list,
  );
  const last = rows.at(-1);
  return {
    events: rows.flatMap((row) => eventsOf(row, wish.occasions)),
    cursor:
      last?.nth === WINDOW_ROWS
        ? { stampMs: last.stamp_ms, reading: { id: last.reading_id, version: last.version } }
        : { stampMs: wish.asOfMs, reading: null },
  };
}

function eventsOf(row: WindowRow, occasions: readonly string[]): FoundEvent[] {
  const { stamp_ms: stampMs, reading_id: readingId, version, wanted } = row;
  return (wanted === '' ? [] : wanted.split(',')).flatMap((one) => {
    const [shown = '', occasion = ''] = one.split('/');
    return occasions.includes(occasion) ? [{ stampMs, readingId, version, shown, occasion }] : [];
  });
}

/** Numbers the events of the next window. False: another process has the subscription. */
export async function countEvents(
  pool: Pool,
  work: { readonly subscriptionKey: number; readonly holder: string; readonly events: number },
  wish: EventWish,
): Promise<boolean> {
  return inTransaction(pool, async (client) => {
    const { events, cursor } = await findEvents(client, wish);
    const { rowCount } = await client.query(
      `update subscriptions set events = $3, cursor_stamp = $4, cursor_reading = $5, cursor_version = $6
        where subscription_key = $1 and lease = $2`,
      [
        ...[work.subscriptionKey, work.holder, work.events + events.length],
        ...[new Date(cursor.stampMs), cursor.reading?.id, cursor.reading?.version],
      ],
    );
    if (rowCount === 0) return false;
    if (events.length === 0) return true;
    await client.query(
      `insert into subscription_events (subscription_key, event_number, stamp, reading_id, version, shown, occasion)
       select $1, $2 + e.nth, e.stamp, e.reading_id, e.version, e.shown, e.occasion
         from unnest($3::timestamptz[], $4::uuid[], $5::smallint[], $6::text[], $7::text[])
              with ordinality as e(stamp, reading_id, version, shown, occasion, nth)`,
      [
        ...[work.subscriptionKey, work.events],
        events.map(({ stampMs }) => new Date(stampMs)),
        events.map(({ readingId }) => readingId),
        events.map(({ version }) => version),
        events.map(({ shown }) => shown),
        events.map(({ occasion }) => occasion),
      ],
    );
    return true;
  });
}

/** Events from one number to another, both inclusive, in order, at most `limit`. */
export async function listEvents(
  pool: Pool,
  subscriptionKey: number,
  { from, to, limit }: { readonly from: number; readonly to: number; readonly limit: number },
): Promise<SubscriptionEvent[]> {
  const { rows } = await pool.query<
    ShownRow & { event_number: number; occasion: Occasion; patient_key: number }
  >({
    name: 'list-subscription-events',
    text: `select ${READING_COLUMNS}, r.members, ev.shown, ev.event_number, ev.occasion, r.patient_key
             from (select event_number, reading_id, version, shown, occasion from subscription_events
                    where subscription_key = $1 and event_number between $2 and $3
                    order by event_number limit $4) ev
             cross join lateral (
               select ${rowSql('reading')} from ${rowsOf('reading')}
                where ev.shown <> 'panel' and r.reading_id = ev.reading_id and r.version = ev.version
               union all
               select ${rowSql('panel')} from ${rowsOf('panel')}
                where ev.shown = 'panel' and r.reading_id = ev.reading_id and r.version = ev.version) r
             ${READING_DICTIONARIES} order by ev.event_number`,
    values: [subscriptionKey, from, to, limit],
  });
  return rows.map((row) => ({
    eventNumber: row.event_number,
    occasion: row.occasion,
    version: toObservationVersion(row),
    patientKey: row.patient_key,
  }));
}

/** An event that was given up. */
export interface DeadLetter {
  readonly eventNumber: number;
  readonly givenUpMs: number;
  readonly attempts: number;
  readonly reason: string;
}

/** The newest of each of these subscriptions, by its key. */
export async function listDeadLetters(
  pool: Pool,
  subscriptionKeys: readonly number[],
  ofEach: number,
): Promise<Map<number, DeadLetter[]>> {
  const { rows } = await pool.query<{
    subscription_key: number;
    event_number: number;
    given_up_at: Date;
    attempts: number;
    reason: string;
  }>(
    `select l.subscription_key, l.event_number, l.given_up_at, l.attempts, l.reason
       from unnest($1::integer[]) as k cross join lateral (
         select subscription_key, event_number, given_up_at, attempts, reason from subscription_dead_letters
          where subscription_key = k order by event_number desc limit $2) l
      order by l.subscription_key, l.event_number`,
    [subscriptionKeys, ofEach],
  );
  const found = new Map<number, DeadLetter[]>();
  for (const row of rows) {
    const letters = found.get(row.subscription_key) ?? [];
    found.set(row.subscription_key, letters);
    letters.push({
      eventNumber: row.event_number,
      givenUpMs: row.given_up_at.getTime(),
      attempts: row.attempts,
      reason: row.reason,
    });
  }
  return found;
}

/** How long events that were delivered can be read again. */
export interface EventRetention {
  /** Older ones are cleared … */
  readonly beforeMs: number;
  /** … and those of which so many newer ones have been counted. */
  readonly newest: number;
}

const CLEARED_AT_ONCE = 5_000;

/** Clears events that were delivered long ago, and what was given up with them. */
export async function clearOldEvents(pool: Pool, retention: EventRetention): Promise<void> {
  const { beforeMs, newest } = retention;
  for (;;) {
    const { rowCount } = await pool.query(
      `delete from subscription_events d using (
         select low.subscription_key, low.event_number
           from subscriptions s cross join lateral (
             select e.subscription_key, e.event_number, e.stamp from subscription_events e
              where e.subscription_key = s.subscription_key order by e.event_number limit $3) low
          where low.event_number <= s.settled
            and (low.stamp < $1 or low.event_number <= s.events - $2)) old
        where d.subscription_key = old.subscription_key and d.event_number = old.event_number`,
      [new Date(beforeMs), newest, CLEARED_AT_ONCE],
    );
    if ((rowCount ?? 0) < CLEARED_AT_ONCE) break;
  }
  await pool.query(
    `delete from subscription_dead_letters l where l.given_up_at < $1
        and not exists (select from subscription_events e where e.subscription_key = l.subscription_key
                           and e.event_number = l.event_number)`,
    [new Date(beforeMs)],
  );
}
