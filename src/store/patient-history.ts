/** A patient's own readings of the days before: what change is judged against. Read under the patients' locks. */
import type { ClientBase } from 'pg';
import type { Measured, PastReading, Reading } from '../vitals/shapes.js';
import type { Method, Part, Position, Side, Site, Verdict, Vital } from '../vitals/words.js';
import { receivedAtMsOf } from './reading-rows.js';

/** So many readings of a sign are looked back on at the most, however short the time that they fill. */
export const HISTORY_A_SIGN = 16;

/** What to look back on for the readings of one patient. */
export interface HistoryWindow {
  readonly patientKey: number;
  readonly vitals: ReadonlySet<Vital>;
  readonly fromMs: number;
  /** Exclusive: a reading is held against older ones only. */
  readonly toMs: number;
}

/** The stretch before these readings in which others of their signs matter. */
export function historyWindowOf(
  patientKey: number,
  readings: readonly Reading[],
  historyMs: number,
): HistoryWindow {
  const times = readings.map((reading) => reading.takenAt.epochMs);
  return {
    patientKey,
    vitals: new Set(readings.map((reading) => reading.vital)),
    fromMs: Math.min(...times) - historyMs,
    toMs: Math.max(...times),
  };
}

/** A reading as the query packs it: one JSON array costs this process a fifth of a row. */
type Packed = readonly [
  readingId: string,
  takenAtMs: number,
  offsetMinutes: number,
  method: Method | null,
  site: Site | null,
  side: Side | null,
  position: Position | null,
  verdict: Verdict,
  amount: string | null,
  systolic: string | null,
  diastolic: string | null,
  mean: string | null,
  deviceSystem: string | null,
  deviceValue: string | null,
];

/**
 * By patient key the readings in these windows that count, oldest first: measured, not held, rejected or
 * withdrawn. Of each sign the last {@link HISTORY_A_SIGN}. The primary key leads to them, newest first, so
 * that a sign that is measured often costs no more than one that is not.
 */
export async function readHistory(
  client: ClientBase,
  windows: readonly HistoryWindow[],
): Promise<Map<number, PastReading[]>> {
  const asked = windows.flatMap(({ patientKey, vitals, fromMs, toMs }) =>
    [...vitals].map((vital) => ({ patientKey, vital, fromMs, toMs })),
  );
  const { rows } = await client.query<{ patient_key: number; vital: Vital; packed: Packed[] }>({
    name: 'read-history',
    text: `select w.patient_key, w.vital, h.packed
             from unnest($1::int[], $2::vital[], $3::timestamptz[], $4::timestamptz[])
                    as w(patient_key, vital, from_at, to_at)
            cross join lateral (
                   select json_agg(json_build_array(
                            n.reading_id, (extract(epoch from n.effective_at) * 1000)::bigint,
                            n.offset_minutes, n.method, n.site, n.side, n.position, n.verdict,
                            n.amount::text, n.systolic::text, n.diastolic::text, n.mean::text,
                            d.system, d.value)) as packed
                     from (select r.*
                             from readings r
                            where r.patient_key = w.patient_key and r.vital = w.vital
                              and r.effective_at >= w.from_at and r.effective_at < w.to_at
                              and r.superseded is null and r.hold is null and r.absent is null
                              and r.verdict in ('accepted', 'noted')
                              and r.status is distinct from 'entered-in-error'
                            order by r.effective_at desc, r.reading_id desc
                            limit ${HISTORY_A_SIGN}) as n
                     left join devices d on d.device_key = n.device_key) as h
            where h.packed is not null`,
    values: [
      asked.map((one) => one.patientKey),
      asked.map((one) => one.vital),
      asked.map((one) => new Date(one.fromMs).toISOString()),
      asked.map((one) => new Date(one.toMs).toISOString()),
    ],
  });
  const byPatient = new Map<number, PastReading[]>();
  for (const { patient_key: patientKey, vital, packed } of rows) {
    const list = byPatient.get(patientKey) ?? [];
    byPatient.set(patientKey, list);
    for (const one of packed) list.push(unpack(vital, one));
  }
  for (const list of byPatient.values()) list.sort(byTime);
  return byPatient;
}

/** Oldest first; of one time in the order of arrival. */
export function byTime(a: PastReading, b: PastReading): number {
  const apartMs = a.takenAt.epochMs - b.takenAt.epochMs;
  return apartMs !== 0 ? apartMs : a.readingId < b.readingId ? -1 : 1;
}

function unpack(vital: Vital, packed: Packed): PastReading {
  const [readingId, epochMs, offsetMinutes, method, site, side, position, verdict] = packed;
  const [system, value] = [packed[12], packed[13]];
  return {
    readingId,
    receivedAtMs: receivedAtMsOf(readingId),
    vital,
    method,
    site,
    side,
    position,
    takenAt: { epochMs, offsetMinutes },
    values: measured(packed),
    device: system === null || value === null ? null : { system, value },
    verdict,
  };
}

function measured(packed: Packed): Partial<Record<Part, Measured>> {
  const [amount, systolic, diastolic, mean] = [packed[8], packed[9], packed[10], packed[11]];
  const values: Partial<Record<Part, Measured>> = {};
  if (amount !== null) values.value = { text: amount, number: Number(amount) };
  if (systolic !== null) values.systolic = { text: systolic, number: Number(systolic) };
  if (diastolic !== null) values.diastolic = { text: diastolic, number: Number(diastolic) };
  if (mean !== null) values.mean = { text: mean, number: Number(mean) };
  return values;
}
