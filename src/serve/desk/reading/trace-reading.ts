/** Leads from what was made of a reading back to the bytes that it came from. */
import type { ReadingVersion } from '../../../vitals/shapes.js';
import type { Stretch } from './locate-json.js';
import { locateJson } from './locate-json.js';
import { locateHl7 } from './locate-hl7.js';
import type { LocatedSegment } from './locate-hl7.js';

/** Something that was sent, and where. */
export interface Trace {
  /** What it became: `value`, `unit`, `patient`, … */
  readonly field: string;
  /** Where in the message, in the words of its protocol. */
  readonly place: string;
  readonly stretch: Stretch;
}

/** How what was sent is to be read. */
export type SentForm = 'json' | 'hl7v2' | 'other';

export function sentFormOf(contentType: string): SentForm {
  if (/hl7-v2|hl7v2/i.test(contentType)) return 'hl7v2';
  return /json/i.test(contentType) ? 'json' : 'other';
}

/** Members of a reading of a set, and of the set itself. */
const READING_MEMBERS = [
  ...['vital', 'method', 'site', 'side', 'value', 'systolic', 'diastolic', 'mean', 'unit'],
  ...['count', 'seconds', 'code', 'absent', 'takenAt', 'position', 'device', 'note', 'confirmed'],
];
const SET_MEMBERS = ['patient', 'encounter', 'takenAt', 'recorder', 'location', 'position'];

type Found = ReadonlyMap<string, Stretch>;

function tracesAt(found: Found, base: string, members: readonly string[]): Trace[] {
  return members.flatMap((member) => {
    const place = `${base}/${member}`;
    const stretch = found.get(place);
    return stretch === undefined ? [] : [{ field: member, place, stretch }];
  });
}

function traceSet(found: Found, index: number): Trace[] {
  const base = `/readings/${index}`;
  const whole = found.get(base);
  if (whole === undefined) return [];
  const own = tracesAt(found, base, READING_MEMBERS);
  const told = new Set(own.map(({ field }) => field));
  const shared = tracesAt(found, '', SET_MEMBERS).filter(({ field }) => !told.has(field));
  return [...own, ...shared];
}

/** Elements of an Observation that a reading is read from (FHIR R4 Observation). */
const ELEMENTS: readonly (readonly [element: string, field: string])[] = [
  ['code', 'vital'],
  ['valueQuantity', 'value'],
  ['valueCodeableConcept', 'value'],
  ['component', 'value'],
  ['dataAbsentReason', 'absent'],
  ['method', 'method'],
  ['bodySite', 'site'],
  ['subject', 'patient'],
  ['encounter', 'encounter'],
  ['effectiveDateTime', 'takenAt'],
  ['effectivePeriod', 'takenAt'],
  ['performer', 'recorder'],
  ['device', 'device'],
  ['status', 'status'],
  ['note', 'note'],
];

function traceFhir(found: Found, at: string): Trace[] {
  const numbers = [...at.matchAll(/entry (\d+)/g)].map(([, number]) => Number(number));
  const bases = found.has('/entry')
    ? numbers.map((number) => `/entry/${number - 1}/resource`)
    : found.has('/resourceType')
      ? ['']
      : [];
  return bases.flatMap((base) =>
    ELEMENTS.flatMap(([element, field]) => {
      const place = `${base}/${element}`;
      const stretch = found.get(place);
      return stretch === undefined ? [] : [{ field, place, stretch }];
    }),
  );
}

/** Fields of HL7 v2 that a reading is read from (v2.9.1 §3.4.2 PID, §7.4.1 OBR, §7.4.2 OBX). */
const OBX_FIELDS: readonly (readonly [number, string])[] = [
  [3, 'vital'],
  [5, 'value'],
  [6, 'unit'],
  [11, 'status'],
  [14, 'takenAt'],
  [16, 'recorder'],
  [17, 'method'],
  [18, 'device'],
  [20, 'site'],
];
const PID_FIELDS: readonly (readonly [number, string])[] = [
  [3, 'patient'],
  [7, 'patient'],
];
const OBR_FIELDS: readonly (readonly [number, string])[] = [[7, 'takenAt']];

function tracesIn(
  segment: LocatedSegment | undefined,
  fields: readonly (readonly [number, string])[],
): Trace[] {
  if (segment === undefined) return [];
  const { name, occurrence } = segment;
  return fields.flatMap(([number, field]) => {
    const stretch = segment.fields[number];
    return stretch === undefined || stretch.from === stretch.to
      ? []
      : [{ field, place: `${name}-${number} (${name} ${occurrence})`, stretch }];
  });
}

function traceHl7(text: string, at: string): Trace[] {
  const segments = locateHl7(text);
  const wanted = [...at.matchAll(/\d+/g)].map(Number);
  const rows = segments.filter(
    ({ name, occurrence }) => name === 'OBX' && wanted.includes(occurrence),
  );
  const [first] = rows;
  if (first === undefined) return [];
  const before = segments.slice(0, segments.indexOf(first)).reverse();
  const last = (name: string): LocatedSegment | undefined =>
    before.find((one) => one.name === name);
  return [
    ...rows.flatMap((row) => tracesIn(row, OBX_FIELDS)),
    ...tracesIn(last('OBR'), OBR_FIELDS),
    ...tracesIn(last('PID'), PID_FIELDS),
  ];
}

/** Every part of what was sent that the reading was read from, in the order of the text. */
export function traceReading(text: string, form: SentForm, version: ReadingVersion): Trace[] {
  const at = version.report?.at ?? '';
  const traces = ((): Trace[] => {
    if (form === 'hl7v2') return traceHl7(text, at);
    if (form !== 'json') return [];
    const found = locateJson(text);
    return found.has('/readings') ? traceSet(found, version.index) : traceFhir(found, at);
  })();
  return [...traces].sort((one, other) => one.stretch.from - other.stretch.from);
}
