/** What the rules must know to check a set that is not kept: read without locks, nothing learnt. */
import type { ClientBase, Pool } from 'pg';
import type { DeviceFacts, NormalisedSet, RegisteredPatient } from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import { readDeviceFacts } from './device-facts.js';
import type { Edition } from './edition-shelf.js';
import { readEncounters, readRegister, windowOf } from './judging-facts.js';
import type { Names } from './names.js';
import { readOtherReadings } from './other-readings.js';
import type { OtherReadings } from './other-readings.js';

export interface CheckFacts extends OtherReadings {
  /** The edition in force now. */
  readonly edition: Edition;
  readonly patient: RegisteredPatient | null;
  readonly encounterOfAnother: boolean;
  readonly devices: readonly DeviceFacts[];
}

/** No patient has this key. */
const NOBODY = 0;

/** The register and the earlier readings of the patient that the set names, as they stand. */
export async function readCheckFacts(
  pool: Pool,
  names: Names,
  set: NormalisedSet,
  judging: Pick<Judging, 'editions' | 'unitOf'>,
  nowMs: number,
): Promise<CheckFacts> {
  const named = set.readings.flatMap(({ device }) => (device === null ? [] : [device]));
  await names.recallDevices(named);
  const client = await pool.connect();
  try {
    const edition = (await judging.editions.inForce(client))(nowMs);
    const { system, value } = set.patient.identifier;
    const { rows } = await client.query<{ patient_key: number }>(
      'select patient_key from patient_identifiers where system = $1 and value = $2',
      [system, value],
    );
    const patientKey = rows[0]?.patient_key;
    const devices = await readDevices(client, names, set, patientKey ?? NOBODY, nowMs);
    if (patientKey === undefined) {
      const nothing = { patient: null, earlier: [], history: [], encounterOfAnother: false };
      return { edition, devices, ...nothing };
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
      devices,
    };
  } finally {
    client.release();
  }
}

async function readDevices(
  client: ClientBase,
  names: Names,
  { readings }: NormalisedSet,
  patientKey: number,
  receivedAtMs: number,
): Promise<readonly DeviceFacts[]> {
  const devices = readings.flatMap(({ device }) => (device === null ? [] : [device]));
  if (devices.length === 0) return [];
  const question = { devices, ...windowOf(patientKey, readings, 0), receivedAtMs };
  return (await readDeviceFacts(client, names, [question]))[0] ?? [];
}
