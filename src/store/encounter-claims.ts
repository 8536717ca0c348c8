/** Visits and whose they are: the first set of an identified patient that names a visit claims it. */
import type { ClientBase } from 'pg';
import { v7 as uuidv7 } from 'uuid';
import type { Identifier } from '../vitals/shapes.js';
import { readEncounters } from './judging-facts.js';
import { nameOf } from './names.js';

/** By {@link nameOf} the visit. */
export type KnownEncounters = Map<string, { encounterKey: number; patientKey: number }>;

/** The visits among these that somebody has claimed. */
export async function readKnownEncounters(
  client: ClientBase,
  wanted: readonly Identifier[],
): Promise<KnownEncounters> {
  const known: KnownEncounters = new Map();
  if (wanted.length === 0) return known;
  for (const row of await readEncounters(client, wanted)) {
    known.set(nameOf(row.identifier), {
      encounterKey: row.encounterKey,
      patientKey: row.patientKey,
    });
  }
  return known;
}

/** A set that names a visit: its patient, whether that patient is not in doubt, and its records. */
export interface VisitNaming {
  readonly encounter: Identifier;
  readonly patientKey: number;
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
      claims.map(() => uuidv7()),
      claims.map((claim) => claim.encounter.system),
      claims.map((claim) => claim.encounter.value),
      claims.map((claim) => claim.patientKey),
    ],
  );
  const stored = await readKnownEncounters(
    client,
    claims.map((claim) => claim.encounter),
  );
  for (const [name, encounter] of stored) known.set(name, encounter);
}
