/** What the rules need to know of patients, visits and earlier readings: read under the patients' locks. */
import type { ClientBase } from 'pg';
import type { DeviceReport } from '../vitals/device-report.js';
import type {
  EarlierReading,
  Entered,
  Finding,
  Identifier,
  Measured,
  ReadingContext,
  RegisteredPatient,
} from '../vitals/shapes.js';
import type {
  AbsentReason,
  CanonicalUnit,
  ConsciousnessCode,
  HoldKind,
  Method,
  ObservationStatus,
  Part,
  Position,
  Side,
  Site,
  Verdict,
  Vital,
} from '../vitals/words.js';
import { holdingFindings } from './reading-records.js';
import { indexOf } from './reading-rows.js';

/** A stretch of a patient's time in which earlier readings matter. */
export interface TimeWindow {
  readonly patientKey: number;
  readonly fromMs: number;
  readonly toMs: number;
}

/** The stretch of the patient's time in which others matter to these readings. */
export function windowOf(
  patientKey: number,
  readings: readonly Pick<EarlierReading, 'takenAt'>[],
  windowMs: number,
): TimeWindow {
  const timesMs = readings.map((reading) => reading.takenAt.epochMs);
  return {
    patientKey,
    fromMs: Math.min(...timesMs) - windowMs,
    toMs: Math.max(...timesMs) + windowMs,
  };
}

/** What the register knows, by patient key; missing is a patient whom nobody registered or who was merged. */
export async function readRegister(
  client: ClientBase,
  patientKeys: readonly number[],
): Promise<Map<number, RegisteredPatient>> {
  const { rows } = await client.query<{
    patient_key: number;
    family_name: string | null;
    birth_date: string | null;
    gender: RegisteredPatient['gender'];
  }>({
    name: 'read-register',
    text: `select v.patient_key, v.family_name, v.birth_date, v.gender
             from patient_versions v join patients p on p.patient_key = v.patient_key
            where v.patient_key = any($1::int[]) and v.superseded is null and p.merged_into is null`,
    values: [patientKeys],
  });
  return new Map(
    rows.map((row) => [
      row.patient_key,
      { familyName: row.family_name, birthDate: row.birth_date, gender: row.gender },
    ]),
  );
}

/** What the register knows of patients by the identifiers that name them, and whose each of these is now. */
export interface NamedRegister {
  readonly register: ReadonlyMap<number, RegisteredPatient>;
  /** Patient key by identifier key: a merge may have changed what a process remembers. */
  readonly patientKeyOf: ReadonlyMap<number, number>;
}

/** Call it under the patients' locks: a merge that comes later waits for them. */
export async function readNamedRegister(
  client: ClientBase,
  identifierKeys: readonly number[],
): Promise<NamedRegister> {
  const { rows } = await client.query<{
    identifier_key: number;
    patient_key: number;
    registered: boolean;
    family_name: string | null;
    birth_date: string | null;
    gender: RegisteredPatient['gender'];
  }>({
    name: 'read-named-register',
    text: `select i.identifier_key, i.patient_key, v.patient_key is not null as registered,
                  v.family_name, v.birth_date, v.gender
             from patient_identifiers i
             left join patient_versions v on v.patient_key = i.patient_key and v.superseded is null
            where i.identifier_key = any($1::int[])`,
    values: [identifierKeys],
  });
  const register = new Map<number, RegisteredPatient>();
  for (const row of rows) {
    if (!row.registered) continue;
    const { family_name: familyName, birth_date: birthDate, gender } = row;
    register.set(row.patient_key, { familyName, birthDate, gender });
  }
  return {
    register,
    patientKeyOf: new Map(rows.map((row) => [row.identifier_key, row.patient_key])),
  };
}

export interface EarlierRow {
  patient_key: number;
  reading_id: string;
  effective_ms: string;
  offset_minutes: number;
  vital: Vital;
  method: Method | null;
  site: Site | null;
  side: Side | null;
  position: Position | null;
  verdict: Verdict;
  hold: HoldKind | null;
  status: ObservationStatus | null;
  amount: string | null;
  systolic: string | null;
  diastolic: string | null;
  mean: string | null;
  code: ConsciousnessCode | null;
  absent: AbsentReason | null;
  note: string | null;
  entered: Entered | null;
  context: ReadingContext | null;
  report: DeviceReport | null;
  doubts: Finding[] | null;
  device_system: string | null;
  device_value: string | null;
}

export const EARLIER_COLUMNS = `
  r.patient_key, r.reading_id, r.offset_minutes, r.vital, r.method, r.site, r.side,
  (extract(epoch from r.effective_at) * 1000)::bigint::text as effective_ms,
  r.position, r.verdict, r.hold, r.status, r.amount, r.systolic, r.diastolic, r.mean,
  r.code, r.absent, r.note, r.entered, r.context, r.report, case when r.hold = 'value' then r.findings end as doubts,
  d.system as device_system, d.value as device_value`;

/** The newest version of one reading, as the rules see it; null where there is none. */
export async function readReading(
  client: ClientBase,
  readingId: string,
  unitOf: (vital: Vital) => CanonicalUnit | null,
): Promise<EarlierReading | null> {
  const { rows } = await client.query<EarlierRow>({
    name: 'read-reading',
    text: `select ${EARLIER_COLUMNS} from readings r left join devices d on d.device_key = r.device_key
            where r.reading_id = $1 and r.superseded is null`,
    values: [readingId],
  });
  const row = rows[0];
  return row === undefined ? null : toEarlierReading(row, unitOf(row.vital));
}

/**
 * The newest versions of the readings taken in these stretches of time, oldest first, by patient key.
 * Left out: what was rejected or withdrawn, and what may belong to somebody else (identity holds).
 */
export async function readEarlierReadings(
  client: ClientBase,
  windows: readonly TimeWindow[],
  unitOf: (vital: Vital) => CanonicalUnit | null,
): Promise<Map<number, EarlierReading[]>> {
  const { rows } = await client.query<EarlierRow>({
    name: 'read-earlier-readings',
    text: `select ${EARLIER_COLUMNS}
             from unnest($1::int[], $2::timestamptz[], $3::timestamptz[]) as w(patient_key, from_at, to_at)
             join readings r on r.patient_key = w.patient_key
                            and r.effective_at between w.from_at and w.to_at
             left join devices d on d.device_key = r.device_key
            where r.superseded is null and r.verdict <> 'rejected'
              and r.hold is distinct from 'identity' and r.status is distinct from 'entered-in-error'
            order by r.effective_at, r.reading_id`,
    values: [
      windows.map((window) => window.patientKey),
      windows.map((window) => new Date(window.fromMs).toISOString()),
      windows.map((window) => new Date(window.toMs).toISOString()),
    ],
  });
  const byPatient = new Map<number, EarlierReading[]>();
  for (const row of rows) {
    const list = byPatient.get(row.patient_key);
    const reading = toEarlierReading(row, unitOf(row.vital));
    if (list === undefined) byPatient.set(row.patient_key, [reading]);
    else list.push(reading);
  }
  return byPatient;
}

function measured(row: EarlierRow): Partial<Record<Part, Measured>> {
  const values: Partial<Record<Part, Measured>> = {};
  const keep = (part: Part, text: string | null): void => {
    if (text !== null) values[part] = { text, number: Number(text) };
  };
  keep('value', row.amount);
  keep('systolic', row.systolic);
  keep('diastolic', row.diastolic);
  keep('mean', row.mean);
  return values;
}

export function toEarlierReading(row: EarlierRow, unit: CanonicalUnit | null): EarlierReading {
  return {
    readingId: row.reading_id,
    index: indexOf(row.reading_id),
    vital: row.vital,
    method: row.method,
    site: row.site,
    side: row.side,
    position: row.position,
    takenAt: { epochMs: Number(row.effective_ms), offsetMinutes: row.offset_minutes },
    unit,
    values: measured(row),
    code: row.code,
    absent: row.absent,
    entered: row.entered,
    context: row.context ?? {},
    device:
      row.device_system === null || row.device_value === null
        ? null
        : { system: row.device_system, value: row.device_value },
    note: row.note,
    faults: [],
    sentUnit: null,
    ...(row.report !== null && { report: row.report }),
    verdict: row.verdict,
    hold: row.hold,
    status: row.status,
    ...(row.doubts === null ? {} : { doubts: holdingFindings(row.doubts) }),
  };
}

/** Visits by their identifier, as far as they are known. */
export async function readEncounters(
  client: ClientBase,
  wanted: readonly Identifier[],
): Promise<{ identifier: Identifier; encounterKey: number; patientKey: number }[]> {
  const { rows } = await client.query<{
    system: string;
    value: string;
    encounter_key: number;
    patient_key: number;
  }>({
    name: 'read-encounters',
    text: `select e.system, e.value, e.encounter_key, e.patient_key
             from encounters e join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)`,
    values: [wanted.map((one) => one.system), wanted.map((one) => one.value)],
  });
  return rows.map((row) => ({
    identifier: { system: row.system, value: row.value },
    encounterKey: row.encounter_key,
    patientKey: row.patient_key,
  }));
}
