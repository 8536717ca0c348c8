/**
 * Identifiers that senders give their readings. One that is to be kept only if nothing is kept under its
 * identifiers yet is linked to what is, like a reading that came by two roads, and never judged again.
 */
import type { ClientBase } from 'pg';
import { ConditionFailed } from '../errors.js';
import type {
  Identifier,
  JudgedSet,
  LinkedReading,
  NormalisedSet,
  Reading,
} from '../vitals/shapes.js';
import { atPlace, isSentAs } from './linked-readings.js';
import type { SentForm } from './linked-readings.js';
import { nameOf } from './names.js';
import type { PatientName } from './names.js';
import { SENT_COLUMNS, SENT_JOINS, formOfRow } from './read-sent.js';
import type { SentRow } from './read-sent.js';
import { readingId, toReadingVersion } from './reading-rows.js';

/** A kept reading, and whose and what it was sent as. */
interface Identified {
  readonly kept: LinkedReading;
  readonly form: SentForm;
  readonly patientKeys: readonly number[];
  readonly identifierKey: number;
}

/** Kept readings by the names of their identifiers. */
export type IdentifiedReadings = ReadonlyMap<string, readonly Identified[]>;

type IdentifiedRow = SentRow & {
  own_system: string;
  own_value: string;
  sent_patient_key: number;
  sent_identifier_key: number;
};

const NONE: IdentifiedReadings = new Map();

/** The identifiers under which readings are to be kept only if nothing is yet. */
export function conditionsOf(readings: readonly Reading[]): readonly Identifier[] {
  return readings.flatMap(({ report }) => report?.unlessKept ?? []);
}

/** What is kept under these identifiers. They must have been locked. */
export async function readIdentified(
  client: ClientBase,
  identifiers: readonly Identifier[],
): Promise<IdentifiedReadings> {
  if (identifiers.length === 0) return NONE;
  const { rows } = await client.query<IdentifiedRow>({
    name: 'read-identified',
    text: `select ${SENT_COLUMNS}, i.system as own_system, i.value as own_value,
                  f.patient_key as sent_patient_key, f.identifier_key as sent_identifier_key
             from (select distinct * from unnest($1::text[], $2::text[]) as n(system, value)) n
             join observation_identifiers i on i.system = n.system and i.value = n.value
             join readings f on f.reading_id = i.reading_id and f.version = 1
             ${SENT_JOINS}`,
    values: [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)],
  });
  const found = new Map<string, Identified[]>();
  for (const row of rows) {
    const name = nameOf({ system: row.own_system, value: row.own_value });
    found.set(name, [...(found.get(name) ?? []), toIdentified(row)]);
  }
  return found;
}

function toIdentified(row: IdentifiedRow): Identified {
  return {
    kept: toReadingVersion(row),
    form: formOfRow(row),
    patientKeys: [row.patient_key, row.sent_patient_key],
    identifierKey: row.sent_identifier_key,
  };
}

/**
 * The readings that are kept already under one of their identifiers, each at its place in the set.
 * @throws ConditionFailed when that leads to several, or to one that says something else: a new value is
 *   never passed over because of an old name
 */
export function findIdentified(
  readings: readonly Reading[],
  identified: IdentifiedReadings,
  patient: PatientName,
): LinkedReading[] {
  return readings.flatMap((reading) => {
    const matches = new Map<string, Identified>();
    for (const identifier of reading.report?.unlessKept ?? []) {
      for (const one of identified.get(nameOf(identifier)) ?? []) {
        matches.set(one.kept.readingId, one);
      }
    }
    const [only, ...more] = matches.values();
    if (only === undefined) return [];
    if (more.length > 0) throw new ConditionFailed('several', reading.index);
    const samePatient =
      only.patientKeys.includes(patient.patientKey) || only.identifierKey === patient.identifierKey;
    if (!samePatient || !isSentAs(reading, only.form)) {
      throw new ConditionFailed('other', reading.index);
    }
    return [atPlace(only.kept, reading.index)];
  });
}

/** What is kept already is no part of what is judged, now or again. */
export function withoutLinked(set: NormalisedSet, linked: readonly LinkedReading[]): NormalisedSet {
  if (linked.length === 0) return set;
  const places = new Set(linked.map(({ index }) => index));
  return { ...set, readings: set.readings.filter(({ index }) => !places.has(index)) };
}

/** A reading and its identifiers. */
export interface NamedReading {
  readonly readingId: string;
  readonly identifiers: readonly Identifier[];
}

/** The identifiers of a set: of what it brought, and of what is linked. A rejected reading keeps none. */
export function nameReadings(
  submissionId: string,
  readings: readonly Reading[],
  judged: JudgedSet,
  linked: readonly LinkedReading[],
): NamedReading[] {
  const ids = new Map(linked.map((kept) => [kept.index, kept.readingId]));
  for (const { reading, verdict } of judged.readings) {
    if (verdict !== 'rejected') ids.set(reading.index, readingId(submissionId, reading.index));
  }
  return readings.flatMap(({ index, report }) => {
    const id = ids.get(index);
    const identifiers = report?.identifiers ?? [];
    return id === undefined || identifiers.length === 0 ? [] : [{ readingId: id, identifiers }];
  });
}

export async function insertIdentifiers(
  client: ClientBase,
  readings: readonly NamedReading[],
): Promise<void> {
  const rows = readings.flatMap(({ readingId, identifiers }) =>
    identifiers.map((identifier) => ({ ...identifier, readingId })),
  );
  if (rows.length === 0) return;
  await client.query({
    name: 'insert-observation-identifiers',
    text: `insert into observation_identifiers (system, value, reading_id)
           select * from unnest($1::text[], $2::text[], $3::uuid[]) on conflict do nothing`,
    values: [
      rows.map(({ system }) => system),
      rows.map(({ value }) => value),
      rows.map((row) => row.readingId),
    ],
  });
}
