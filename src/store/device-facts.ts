/** What rules must know of the devices that sets name: registration, whose they were, how their clocks go. */
import type { ClientBase, Pool } from 'pg';
import { canonicalDevice } from '../vitals/device-identifier.js';
import type { Association, DeviceFacts, Identifier } from '../vitals/shapes.js';
import type { Vital } from '../vitals/words.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { timeText } from './sql-values.js';

/** One set's question. Times in ms since the epoch. */
export interface DeviceQuestion {
  /** The devices that the set names, any number of times, learnt by `names` before. */
  readonly devices: readonly Identifier[];
  /** Whose readings they are said to be. */
  readonly patientKey: number;
  /** The first and the last time of its readings. */
  readonly fromMs: number;
  readonly toMs: number;
  readonly receivedAtMs: number;
}

interface FactsRow {
  place: number;
  registered: boolean;
  signs: Vital[] | null;
  disabled: boolean | null;
  time_accuracy_ms: number | null;
  offset_ms: number | null;
  seen_at: Date | null;
  associations: [fromMs: number, toMs: number | null, ofThisPatient: boolean][] | null;
}

/**
 * The facts for each question, in their order: of each device once, in the order in which the set names
 * them; one of which nothing is known is left out. One query for all; none when no set names a device.
 *
 * An association touches a time from its start (inclusive) to its end (exclusive).
 */
export async function readDeviceFacts(
  client: ClientBase,
  names: Names,
  questions: readonly DeviceQuestion[],
): Promise<DeviceFacts[][]> {
  const answers = questions.map((): DeviceFacts[] => []);
  const asked = questions.flatMap((question, place) =>
    distinctDevices(question.devices).flatMap((device) => {
      const deviceKey = names.device(device);
      return deviceKey === null ? [] : [{ ...question, place, device, deviceKey }];
    }),
  );
  if (asked.length === 0) return answers;
  const { rows } = await client.query<FactsRow>({
    name: 'read-device-facts',
    text: FACTS_SQL,
    values: [
      asked.map((one) => one.deviceKey),
      asked.map((one) => one.patientKey),
      asked.map((one) => timeText(one.fromMs)),
      asked.map((one) => timeText(one.toMs)),
      asked.map((one) => timeText(one.receivedAtMs)),
    ],
  });
  for (const row of rows) {
    const one = asked[row.place - 1];
    if (one === undefined || !isAnythingKnown(row)) continue;
    answers[one.place]?.push(toFacts(one.device, row));
  }
  return answers;
}

const FACTS_SQL = `
  select w.place::int as place, v.device_key is not null as registered, v.signs, v.disabled,
         v.time_accuracy_ms, c.offset_ms, c.seen_at, a.associations
    from unnest($1::int[], $2::int[], $3::timestamptz[], $4::timestamptz[], $5::timestamptz[])
           with ordinality as w(device_key, patient_key, from_at, to_at, received_at, place)
    left join device_versions v on v.device_key = w.device_key and v.superseded is null
    left join device_clocks c on c.device_key = w.device_key
    left join lateral (
           select json_agg(json_build_array(
                    floor(extract(epoch from one.from_at) * 1000)::bigint,
                    floor(extract(epoch from one.to_at) * 1000)::bigint,
                    one.patient_key = w.patient_key) order by one.from_at) as associations
             from associations one
            where one.device_key = w.device_key
              and coalesce(one.to_at, 'infinity'::timestamptz) > least(w.from_at, w.received_at)
              and coalesce(one.to_at, 'infinity'::timestamptz) > one.from_at
              and (one.from_at <= w.to_at and coalesce(one.to_at, 'infinity'::timestamptz) > w.from_at
                   or one.from_at <= w.received_at
                      and coalesce(one.to_at, 'infinity'::timestamptz) > w.received_at)) as a on true
   order by w.place`;

function distinctDevices(devices: readonly Identifier[]): Identifier[] {
  return [...new Map(devices.map((device) => [nameOf(device), device])).values()];
}

function isAnythingKnown(row: FactsRow): boolean {
  return row.registered || row.associations !== null || row.seen_at !== null;
}

function toFacts(device: Identifier, row: FactsRow): DeviceFacts {
  return {
    device,
    registered: row.registered
      ? {
          signs: row.signs,
          disabled: row.disabled ?? false,
          timeAccuracyMs: row.time_accuracy_ms,
        }
      : null,
    associations: (row.associations ?? []).map(([fromMs, toMs, ofThisPatient]): Association => ({
      fromMs,
      toMs,
      ofThisPatient,
    })),
    clock:
      row.offset_ms === null || row.seen_at === null
        ? null
        : { offsetMs: row.offset_ms, seenAtMs: row.seen_at.getTime() },
  };
}

/** A device, and the time for which it is asked whose it was (ms since the epoch). */
export interface WhoseDevice {
  readonly device: Identifier;
  readonly atMs: number;
}

/**
 * The identifier by which the patient was named whose the device was at that time, in the order of the
 * questions; null: nobody's, as far as is known. For messages that name no patient.
 */
export async function findAssociatedPatients(
  pool: Pool,
  questions: readonly WhoseDevice[],
): Promise<(Identifier | null)[]> {
  if (questions.length === 0) return [];
  const devices = questions.map(({ device }) => canonicalDevice(device));
  const { rows } = await pool.query<{ place: number; system: string; value: string }>({
    name: 'find-associated-patients',
    text: `select w.place::int as place, i.system, i.value
             from unnest($1::text[], $2::text[], $3::timestamptz[])
                    with ordinality as w(system, value, at, place)
             join devices d on d.system = w.system and d.value = w.value
            cross join lateral (
                   select one.identifier_key from associations one
                    where one.device_key = d.device_key and one.from_at <= w.at
                      and coalesce(one.to_at, 'infinity'::timestamptz) > w.at limit 1) as a
             join patient_identifiers i on i.identifier_key = a.identifier_key`,
    values: [
      devices.map(({ system }) => system),
      devices.map(({ value }) => value),
      questions.map(({ atMs }) => timeText(atMs)),
    ],
  });
  const found = new Map(rows.map(({ place, system, value }) => [place, { system, value }]));
  return questions.map((_, index) => found.get(index + 1) ?? null);
}
