/** What the rules must know to check a set that is not kept: read without locks, nothing learnt. */
import type { Pool } from 'pg';
import type { EarlierReading, NormalisedSet, RegisteredPatient } from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import { windowOf } from './commit-sets.js';
import { readEarlierReadings, readEncounters, readRegister } from './judging-facts.js';

export interface CheckFacts {
  readonly patient: RegisteredPatient | null;
  readonly earlier: readonly EarlierReading[];
  readonly encounterOfAnother: boolean;
}

/** The register and the earlier readings of the patient that the set names, as they stand. */
export async function readCheckFacts(
  pool: Pool,
  set: NormalisedSet,
  judging: Pick<Judging, 'windowMs' | 'unitOf'>,
): Promise<CheckFacts> {
  const client = await pool.connect();
  try {
    const { system, value } = set.patient.identifier;
    const { rows } = await client.query<{ patient_key: number }>(
      'select patient_key from patient_identifiers where system = $1 and value = $2',
      [system, value],
    );
    const patientKey = rows[0]?.patient_key;
    if (patientKey === undefined) return { patient: null, earlier: [], encounterOfAnother: false };
    const times = set.readings.map((reading) => reading.takenAt.epochMs);
    const window = windowOf(patientKey, times, judging.windowMs);
    const earlier = await readEarlierReadings(client, [window], judging.unitOf);
    const encounter =
      set.encounter === null ? undefined : (await readEncounters(client, [set.encounter]))[0];
    return {
      patient: (await readRegister(client, [patientKey])).get(patientKey) ?? null,
      earlier: earlier.get(patientKey) ?? [],
      encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
    };
  } finally {
    client.release();
  }
}
