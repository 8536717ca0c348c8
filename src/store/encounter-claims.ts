/** Visits and whose they are: the first set of an identified patient that names a visit claims it. */
import type { ClientBase } from 'pg';
import { uuid7 } from './uuid7.js';
import type { Identifier } from '../vitals/shapes.js';
import { readEncounters } from './judging-facts.js';
import { nameOf } from './names.js';
import type { EncounterName, Names } from './names.js';

/** By {@link nameOf} the visit. */
export type KnownEncounters = Map<string, EncounterName>;

/** A visit that a set of this patient names. */
export interface NamedVisit {
  readonly encounter: Identifier;
  readonly patientKey: number;
}

/**
 * The visits among these that somebody has claimed. What is committed is remembered; where it would make
 * the visit another patient's it is asked again, for the two may have been merged.
 */
export async function readKnownEncounters(
  client: ClientBase,
  names: Names,
  wanted: readonly NamedVisit[],
): Promise<KnownEncounters> {
  const known: KnownEncounters = new Map();
  const unknown: Identifier[] = [];
  for (const { encounter, patientKey } of wanted) {
    const remembered = names.encounter(nameOf(encounter));
    if (remembered?.patientKey === patientKey) known.set(nameOf(encounter), remembered);
    else unknown.push(encounter);
  }
  for (const [name, encounter] of await findEncounters(client, unknown)) {
    known.set(name, encounter);
    names.rememberEncounter(name, encounter);
  }
  return known;
}

async function findEncounters(
  client: ClientBase,
  wanted: readonly Identifier[],
): Promise<KnownEncounters> {
  const rows = wanted.length === 0 ? [] : await readEncounters(client, wanted);
  return new Map(
    rows.map(({ identifier, encounterKey, patientKey }) => [
      nameOf(identifier),
      { encounterKey, patientKey },
    ]),
  );
}

/** A set that names a visit: its patient, whether that patient is not in doubt, and its records. */
export interface VisitNaming extends NamedVisit {
  readonly identified: boolean;
  readonly records: readonly Record<string, unknown>[];
}

/**
 * Gives the records their `encounter_key`. A visit not seen before is claimed by the first set whose
 * patient is not in doubt; a doubtful set claims nothing and gets no visit, lest a mistake stick.
 * The caller holds the locks of these visits.
 */
export async function claimEncounters(
  client: ClientBase,
  known: KnownEncounters,
  namings: readonly VisitNaming[],
): Promise<void> {
  const claims = new Map<string, VisitNaming>();
  for (const naming of namings) {
    const name = nameOf(naming.encounter);
    if (naming.identified && !known.has(name) && !claims.has(name)) claims.set(name, naming);
  }
  if (claims.size > 0) await insertClaims(client, known, [...claims.values()]);
  for (const { encounter, patientKey, records } of namings) {
    const found = known.get(nameOf(encounter));
    if (found?.patientKey !== patientKey) continue;
    for (const record of records) record.encounter_key = found.encounterKey;
  }
}

async function insertClaims(
  client: ClientBase,
  known: KnownEncounters,
  claims: readonly VisitNaming[],
): Promise<void> {
  await client.query(
    `insert into encounters (encounter_id, system, value, patient_key)
     select * from unnest($1::uuid[], $2::text[], $3::text[], $4::int[]) on conflict do nothing`,
    [
      claims.map(() => uuid7()),
      claims.map((claim) => claim.encounter.system),
      claims.map((claim) => claim.encounter.value),
      claims.map((claim) => claim.patientKey),
    ],
  );
  // Not remembered yet: this transaction may still be rolled back.
  const stored = await findEncounters(
    client,
    claims.map((claim) => claim.encounter),
  );
  for (const [name, encounter] of stored) known.set(name, encounter);
}
