/** Whose readings a message brings: as it names them, else as the device was somebody's at that time. */
import type { Pool } from '../store/pool.js';
import { findAssociatedPatients } from '../store/device-facts.js';
import { findRegistered } from '../store/find-registered.js';
import { nameOf } from '../store/names.js';
import type {
  ClaimedPatient,
  DeliveredPatient,
  DeliveredSet,
  Identifier,
  IdentityClaim,
  IncomingReading,
} from '../vitals/shapes.js';
import { unidentifiedPatient } from '../vitals/unidentified.js';

/** A set that knows under which identifier it is kept. */
export interface SettledSet {
  readonly set: DeliveredSet;
  readonly patient: ClaimedPatient;
  readonly claim: IdentityClaim;
}

/**
 * One or more sets: the devices of a message that names nobody may have been several patients'. What no
 * association covers waits under a name of its own; nothing is ever guessed from a place.
 */
export async function settleIdentity(
  pool: Pool,
  source: string,
  set: DeliveredSet,
  receivedAtMs: number,
): Promise<SettledSet[]> {
  return set.patient === null
    ? splitByAssociation(pool, source, set, receivedAtMs)
    : [await settleNamed(pool, set, set.patient)];
}

/** Of several identifiers the first that is registered; several registered ones must be one person's. */
async function settleNamed(
  pool: Pool,
  set: DeliveredSet,
  named: DeliveredPatient,
): Promise<SettledSet> {
  const { others = [], doubts: told = [], ...claimed } = named;
  const doubts = [...told];
  if (others.length === 0) return { set, patient: claimed, claim: { by: 'named', doubts } };
  const all = [claimed.identifier, ...others];
  const registered = await findRegistered(pool, all);
  const known = all.find((identifier) => registered.has(nameOf(identifier)));
  if (new Set(registered.values()).size > 1) doubts.push('identifiers-conflict');
  const patient = { ...claimed, identifier: known ?? claimed.identifier };
  return { set, patient, claim: { by: 'named', doubts } };
}

async function splitByAssociation(
  pool: Pool,
  source: string,
  set: DeliveredSet,
  receivedAtMs: number,
): Promise<SettledSet[]> {
  const timed = set.readings.flatMap((reading) => {
    const device = reading.device?.identifier;
    if (device === undefined) return [];
    const at = reading.takenAt ?? set.takenAt;
    return [{ reading, device, atMs: at === null ? receivedAtMs : Date.parse(at) }];
  });
  const patients = timed.length === 0 ? [] : await findAssociatedPatients(pool, timed);
  const patientOf = new Map<IncomingReading, Identifier>();
  timed.forEach(({ reading }, place) => {
    const patient = patients[place];
    if (patient !== null && patient !== undefined) patientOf.set(reading, patient);
  });
  return partsOf(source, set, patientOf);
}

/** One part a patient, in the order of their readings; the last has what is nobody's, and the unread rows. */
function partsOf(
  source: string,
  set: DeliveredSet,
  patientOf: ReadonlyMap<IncomingReading, Identifier>,
): SettledSet[] {
  const byPatient = new Map<string, { identifier: Identifier; readings: IncomingReading[] }>();
  const nobodys: IncomingReading[] = [];
  for (const reading of set.readings) {
    const identifier = patientOf.get(reading);
    if (identifier === undefined) {
      nobodys.push(reading);
      continue;
    }
    const name = nameOf(identifier);
    const part = byPatient.get(name) ?? { identifier, readings: [] };
    part.readings.push(reading);
    byPatient.set(name, part);
  }
  const parts = [...byPatient.values()].map(({ identifier, readings }): SettledSet => ({
    set: withReadings(set, readings),
    patient: { identifier },
    claim: { by: 'association', doubts: [] },
  }));
  if (nobodys.length > 0 || parts.length === 0) {
    parts.push({
      set: withReadings(set, nobodys),
      patient: unidentifiedPatient(source, nobodys[0]?.device?.identifier ?? null),
      claim: { by: 'nobody', doubts: [] },
    });
  }
  const [first, ...rest] = parts;
  if (first === undefined || set.unread === undefined) return parts;
  return [{ ...first, set: { ...first.set, unread: set.unread } }, ...rest];
}

/** The unread rows go with one part only: they are added to it. */
function withReadings(set: DeliveredSet, readings: readonly IncomingReading[]): DeliveredSet {
  const part: { unread?: DeliveredSet['unread'] } & DeliveredSet = { ...set, readings };
  delete part.unread;
  return part;
}
