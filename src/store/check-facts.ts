/** What the rules must know to check a set that is not kept: read without locks, nothing learnt. */
import type { Pool } from 'pg';
import type {
  EarlierReading,
  NormalisedSet,
  PastReading,
  RegisteredPatient,
} from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import { windowOf } from './commit-sets.js';
import type { Edition } from './edition-shelf.js';
import { readEarlierReadings, readEncounters, readRegister } from './judging-facts.js';
import { historyWindowOf, readHistory } from './patient-history.js';

export interface CheckFacts {
  /** The edition in force now. */
  readonly edition: Edition;
  readonly patient: RegisteredPatient | null;
  readonly earlier: readonly EarlierReading[];
  readonly history: readonly PastReading[];
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
    const times = set.readings.map((reading) => reading.takenAt.epochMs);
    const window = windowOf(patientKey, times, edition.limits.comparedMs);
    const earlier = await readEarlierReadings(client, [window], judging.unitOf);
    const history = await readHistory(client, [
      historyWindowOf(patientKey, set.readings, edition.limits.historyMs),
    ]);
    const encounter =
      set.encounter === null ? undefined : (await readEncounters(client, [set.encounter]))[0];
    return {
      edition,
      patient: (await readRegister(client, [patientKey])).get(patientKey) ?? null,
      earlier: earlier.get(patientKey) ?? [],
      history: history.get(patientKey) ?? [],
      encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
    };
  } finally {
    client.release();
  }
}
