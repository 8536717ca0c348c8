/** What the rules must know to check a set that is not kept: read without locks, nothing learnt. */
import type { Pool } from 'pg';
import type { NormalisedSet, RegisteredPatient } from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import type { Edition } from './edition-shelf.js';
import { readEncounters, readRegister } from './judging-facts.js';
import { readOtherReadings } from './other-readings.js';
import type { OtherReadings } from './other-readings.js';

export interface CheckFacts extends OtherReadings {
  /** The edition in force now. */
  readonly edition: Edition;
  readonly patient: RegisteredPatient | null;
  readonly encounterOfAnother: boolean;
}

/** The register and the earlier readings of the patient that the set names, as they stand. */
export async function readCheckFacts(
  pool: Pool,
  set: NormalisedSet,
  judging: Pick<Judging, 'editions' | 'unitOf'>,
  nowMs: number,
): Promise<CheckFacts> {
  const client = await pool.connect();
  try {
    const edition = (await judging.editions.inForce(client))(nowMs);
    const { system, value } = set.patient.identifier;
    const { rows } = await client.query<{ patient_key: number }>(
      'select patient_key from patient_identifiers where system = $1 and value = $2',
      [system, value],
    );
    const patientKey = rows[0]?.patient_key;
    if (patientKey === undefined) {
      return { edition, patient: null, earlier: [], history: [], encounterOfAnother: false };
    }
    const { limits } = edition;
    const others = await readOtherReadings(
      client,
      patientKey,
      set.readings,
      limits,
      judging.unitOf,
    );
    const encounter =
      set.encounter === null ? undefined : (await readEncounters(client, [set.encounter]))[0];
    return {
      edition,
      patient: (await readRegister(client, [patientKey])).get(patientKey) ?? null,
      ...others,
      encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
    };
  } finally {
    client.release();
  }
}
