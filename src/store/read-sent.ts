/** Kept readings as they were first sent, to know one again that comes by another road. */
import type { ClientBase } from 'pg';
import type { LinkedReading, Reading } from '../vitals/shapes.js';
import type { Part } from '../vitals/words.js';
import type { TimeWindow } from './judging-facts.js';
import { keepSent } from './linked-readings.js';
import type { SentForm, SentReadings } from './linked-readings.js';
import { READING_COLUMNS, READING_DICTIONARIES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

export type SentRow = ReadingRow & {
  patient_key: number;
  as_sent: {
    vital: Reading['vital'];
    method: Reading['method'];
    site: Reading['site'];
    side: Reading['side'];
    code: Reading['code'];
    absent: Reading['absent'];
    entered: Reading['entered'];
    confirmed: boolean | null;
  };
  sent_ms: string;
  sent_amount: string | null;
  sent_systolic: string | null;
  sent_diastolic: string | null;
  sent_mean: string | null;
  sent_device: [system: string, value: string] | null;
};

/** The `select` list for a {@link SentRow}; use it with {@link SENT_JOINS}. */
export const SENT_COLUMNS = `${READING_COLUMNS}, r.patient_key,
  (extract(epoch from f.effective_at) * 1000)::bigint::text as sent_ms,
  jsonb_build_object('vital', f.vital, 'method', f.method, 'site', f.site,
    'side', f.side, 'code', f.code, 'absent', f.absent, 'entered', f.entered,
    'confirmed', f.context -> 'confirmed') as as_sent,
  f.amount as sent_amount, f.systolic as sent_systolic,
  f.diastolic as sent_diastolic, f.mean as sent_mean,
  (select jsonb_build_array(fd.system, fd.value) from devices fd
    where fd.device_key = f.device_key) as sent_device`;

/** Joins to the first version `f` of a reading its newest one, `r`, with what that points to. */
export const SENT_JOINS = `join readings r on r.reading_id = f.reading_id and r.superseded is null
  ${READING_DICTIONARIES}`;

/**
 * The readings first sent as taken in these stretches, as they were sent and as they stand now: what was
 * corrected since is still the same reading. Left out: what was rejected or withdrawn, and what may belong
 * to somebody else.
 */
export async function readSent(
  client: ClientBase,
  windows: readonly TimeWindow[],
): Promise<Map<number, SentReadings>> {
  const byPatient = new Map<number, SentReadings>();
  const ids = await findFirstSent(client, windows);
  if (ids.length === 0) return byPatient;
  const { rows } = await client.query<SentRow>({
    name: 'read-sent',
    text: `select ${SENT_COLUMNS} from readings f ${SENT_JOINS}
            where f.reading_id = any($1::uuid[]) and f.version = 1 and r.patient_key = f.patient_key
              and r.verdict <> 'rejected' and r.hold is distinct from 'identity'
              and r.status is distinct from 'entered-in-error'
            order by r.reading_id`,
    values: [ids],
  });
  for (const row of rows) {
    const sent = byPatient.get(row.patient_key) ?? new Map<string, LinkedReading[]>();
    byPatient.set(row.patient_key, sent);
    keepSent(sent, formOfRow(row), toReadingVersion(row));
  }
  return byPatient;
}

/**
 * Which readings were first sent as taken then: hardly ever any, and so asked for alone, since planning
 * the question about what they are costs more than asking this one.
 */
async function findFirstSent(
  client: ClientBase,
  windows: readonly TimeWindow[],
): Promise<string[]> {
  if (windows.length === 0) return [];
  const { rows } = await client.query<{ reading_id: string }>({
    name: 'find-first-sent',
    text: `select f.reading_id
             from unnest($1::int[], $2::timestamptz[], $3::timestamptz[]) as span(patient_key, from_at, to_at)
             join readings f on f.patient_key = span.patient_key
                            and f.effective_at >= span.from_at and f.effective_at <= span.to_at
                            and f.version = 1`,
    values: [
      windows.map((window) => window.patientKey),
      windows.map((window) => wholeSecond(window.fromMs)),
      windows.map((window) => new Date(window.toMs).toISOString()),
    ],
  });
  return rows.map((row) => row.reading_id);
}

/** From the beginning of the second on. */
function wholeSecond(ms: number): string {
  return new Date(Math.floor(ms / 1000) * 1000).toISOString();
}

/** What the reading of a row was sent as. */
export function formOfRow(row: SentRow): SentForm {
  const numbers: Partial<Record<Part, string>> = {};
  if (row.sent_amount !== null) numbers.value = row.sent_amount;
  if (row.sent_systolic !== null) numbers.systolic = row.sent_systolic;
  if (row.sent_diastolic !== null) numbers.diastolic = row.sent_diastolic;
  if (row.sent_mean !== null) numbers.mean = row.sent_mean;
  const device =
    row.sent_device === null ? null : { system: row.sent_device[0], value: row.sent_device[1] };
  const confirmed = row.as_sent.confirmed === true;
  return { ...row.as_sent, confirmed, device, takenAtMs: Number(row.sent_ms), values: numbers };
}
