/** How a row of `readings`, with the names of what it points to, becomes a {@link ReadingVersion} and back. */
import type { DeviceReport } from '../vitals/device-report.js';
import type {
  DerivedValues,
  Entered,
  Finding,
  Identifier,
  PanelVersion,
  ReadingContext,
  ReadingVersion,
} from '../vitals/shapes.js';
import { PARTS } from '../vitals/words.js';
import type {
  AbsentReason,
  ConsciousnessCode,
  HoldKind,
  Interpretation,
  Method,
  ObservationStatus,
  Part,
  Position,
  Side,
  Site,
  Verdict,
  Vital,
} from '../vitals/words.js';

/** The `select` list for {@link toReadingVersion}; use it with {@link READING_TABLES}. */
export const READING_COLUMNS = `
  r.reading_id, r.version, r.set_id, r.vital, r.method, r.site, r.side, r.position,
  (extract(epoch from r.stamp) * 1000)::bigint::text as stamp_ms,
  (extract(epoch from r.superseded) * 1000)::bigint::text as superseded_ms,
  (extract(epoch from r.hold_until) * 1000)::bigint::text as hold_until_ms,
  (extract(epoch from r.effective_at) * 1000)::bigint::text as effective_ms,
  r.offset_minutes, r.verdict, r.hold, r.status, r.edition,
  r.amount, r.systolic, r.diastolic, r.mean, r.code, r.absent, r.interpretation,
  r.note, r.entered, r.context, r.report, r.findings, r.recorder_asserted, r.derived,
  p.patient_id, pi.system as patient_system, pi.value as patient_value,
  e.system as encounter_system, e.value as encounter_value,
  w.system as recorder_system, w.value as recorder_value,
  d.system as device_system, d.value as device_value,
  l.path as place, s.name as source`;

/** Joins of what readings `r` point to: the patient is `p`, its identifier `pi`. */
export const READING_DICTIONARIES = `
  join patients p on p.patient_key = r.patient_key
  join patient_identifiers pi on pi.identifier_key = r.identifier_key
  join sources s on s.source_key = r.source_key
  left join encounters e on e.encounter_key = r.encounter_key
  left join people w on w.person_key = r.recorder_key
  left join devices d on d.device_key = r.device_key
  left join places l on l.place_key = r.place_key`;

/** `from` clause with the dictionaries joined. */
export const READING_TABLES = `readings r ${READING_DICTIONARIES}`;

/** One row of a query with {@link READING_COLUMNS}. */
export interface ReadingRow {
  reading_id: string;
  version: number;
  set_id: string | null;
  vital: Vital;
  method: Method | null;
  site: Site | null;
  side: Side | null;
  position: Position | null;
  stamp_ms: string;
  superseded_ms: string | null;
  hold_until_ms: string | null;
  effective_ms: string;
  offset_minutes: number;
  verdict: Verdict;
  hold: HoldKind | null;
  status: ObservationStatus | null;
  edition: number;
  amount: string | null;
  systolic: string | null;
  diastolic: string | null;
  mean: string | null;
  code: ConsciousnessCode | null;
  absent: AbsentReason | null;
  interpretation: string | null;
  note: string | null;
  entered: Entered | null;
  context: ReadingContext | null;
  report: DeviceReport | null;
  findings: Finding[] | null;
  recorder_asserted: boolean | null;
  derived: DerivedValues | null;
  patient_id: string;
  patient_system: string;
  patient_value: string;
  encounter_system: string | null;
  encounter_value: string | null;
  recorder_system: string | null;
  recorder_value: string | null;
  device_system: string | null;
  device_value: string | null;
  place: string | null;
  source: string;
}

/** The same of a panel with its members: what it lacks of a reading is null. */
export type PanelRow = ReadingRow & { status: ObservationStatus; members: string[] };

/** The last 16 bits of a reading's id: its place in the submission, counted from 1. */
const PLACE_DIGITS = 4;

/** The id of the reading at `index` (from 0) of a submission: the submission's id with the place in its last 16 bits. */
export function readingId(submissionId: string, index: number): string {
  return (
    submissionId.slice(0, -PLACE_DIGITS) + (index + 1).toString(16).padStart(PLACE_DIGITS, '0')
  );
}

/** The submission that a reading came with. */
export function submissionOf(id: string): string {
  return id.slice(0, -PLACE_DIGITS) + '0'.repeat(PLACE_DIGITS);
}

/** The place of a panel: behind every reading, so that its members come first wherever ids decide. */
export const PANEL_PLACE = 'ffff';

/** The panel of the set that a reading, or the submission itself, came with. */
export function panelIdOf(id: string): string {
  return id.slice(0, -PLACE_DIGITS) + PANEL_PLACE;
}

/** The place (from 0) of a reading in its submission. */
export function indexOf(id: string): number {
  return Number.parseInt(id.slice(-PLACE_DIGITS), 16) - 1;
}

/** When the submission of a reading arrived, in ms since the epoch: its id is a UUID version 7 (RFC 9562, 5.7). */
export function receivedAtMsOf(id: string): number {
  return Number.parseInt(id.slice(0, 8) + id.slice(9, 13), 16);
}

/** First and last id that the readings of a submission can have, for a range query. */
export function readingIdRange(submissionId: string): { first: string; last: string } {
  const stem = submissionId.slice(0, -PLACE_DIGITS);
  return { first: `${stem}0001`, last: `${stem}ffff` };
}

function identifier(system: string | null, value: string | null): Identifier | null {
  return system === null || value === null ? null : { system, value };
}

function milliseconds(text: string | null): number | null {
  return text === null ? null : Number(text);
}

/** Interpretation codes as one short text: a single code, or three joined by a slash with a dash for none. */
export function packInterpretation(
  codes: Readonly<Partial<Record<Part, Interpretation>>>,
): string | null {
  if (codes.value !== undefined) return codes.value;
  if (codes.systolic === undefined && codes.diastolic === undefined && codes.mean === undefined) {
    return null;
  }
  return [codes.systolic, codes.diastolic, codes.mean].map((code) => code ?? '-').join('/');
}

function unpackInterpretation(text: string | null): Partial<Record<Part, Interpretation>> {
  if (text === null) return {};
  if (!text.includes('/')) return { value: text as Interpretation };
  const codes: Partial<Record<Part, Interpretation>> = {};
  text.split('/').forEach((code, i) => {
    const part = PARTS[i + 1];
    if (part !== undefined && code !== '-') codes[part] = code as Interpretation;
  });
  return codes;
}

function values(row: ReadingRow): Partial<Record<Part, string>> {
  const found: Partial<Record<Part, string>> = {};
  if (row.amount !== null) found.value = row.amount;
  if (row.systolic !== null) found.systolic = row.systolic;
  if (row.diastolic !== null) found.diastolic = row.diastolic;
  if (row.mean !== null) found.mean = row.mean;
  return found;
}

/** The version that a row of a query with {@link READING_COLUMNS} stands for. */
export function toReadingVersion(row: ReadingRow): ReadingVersion {
  return {
    readingId: row.reading_id,
    version: row.version,
    stampMs: Number(row.stamp_ms),
    supersededMs: milliseconds(row.superseded_ms),
    receivedAtMs: receivedAtMsOf(row.reading_id),
    submissionId: submissionOf(row.reading_id),
    setId: row.set_id,
    index: indexOf(row.reading_id),
    source: row.source,
    patient: {
      id: row.patient_id,
      identifier: { system: row.patient_system, value: row.patient_value },
    },
    encounter: identifier(row.encounter_system, row.encounter_value),
    recorder: identifier(row.recorder_system, row.recorder_value),
    recorderAsserted: row.recorder_asserted ?? false,
    device: identifier(row.device_system, row.device_value),
    location: row.place,
    vital: row.vital,
    method: row.method,
    site: row.site,
    side: row.side,
    position: row.position,
    takenAt: { epochMs: Number(row.effective_ms), offsetMinutes: row.offset_minutes },
    values: values(row),
    code: row.code,
    absent: row.absent,
    interpretation: unpackInterpretation(row.interpretation),
    derived: row.derived,
    entered: row.entered,
    context: row.context ?? {},
    note: row.note,
    ...(row.report !== null && { report: row.report }),
    findings: row.findings ?? [],
    verdict: row.verdict,
    hold: row.hold,
    holdUntilMs: milliseconds(row.hold_until_ms),
    status: row.status,
    edition: row.edition,
  };
}

/** The version of a panel that a row stands for. */
export function toPanelVersion(row: PanelRow): PanelVersion {
  return {
    panelId: row.reading_id,
    version: row.version,
    stampMs: Number(row.stamp_ms),
    supersededMs: milliseconds(row.superseded_ms),
    receivedAtMs: receivedAtMsOf(row.reading_id),
    setId: row.set_id,
    source: row.source,
    patient: {
      id: row.patient_id,
      identifier: { system: row.patient_system, value: row.patient_value },
    },
    encounter: identifier(row.encounter_system, row.encounter_value),
    recorder: identifier(row.recorder_system, row.recorder_value),
    recorderAsserted: row.recorder_asserted ?? false,
    takenAt: { epochMs: Number(row.effective_ms), offsetMinutes: row.offset_minutes },
    status: row.status,
    edition: row.edition,
    members: row.members,
  };
}
