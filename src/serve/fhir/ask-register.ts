/** Answers what a delivery asks of patients and devices, in as many questions as there are kinds. */
import type { KnownDevice, Questions, Register } from '../../compose/fhir-intake.js';
import { findSubjects, findSubjectsByIdentifier } from '../../store/find-subjects.js';
import { nameOf } from '../../store/names.js';
import type { Pool } from '../../store/pool.js';
import { findTestingDevices, findToldDevices } from '../../store/told-devices.js';
import type { ToldDeviceFacts } from '../../store/told-devices.js';
import { isId } from './site.js';

/** The register as it is now, as far as was asked. */
export async function askRegister(
  pool: Pool,
  { patientIds, patientCriteria, devices, deviceNames }: Questions,
): Promise<Register> {
  const [subjects, named, told, testing] = await Promise.all([
    findSubjects(pool, patientIds.filter(isId)),
    findSubjectsByIdentifier(pool, patientCriteria.flat()),
    findToldDevices(pool, devices.map(({ id }) => id).filter(isId)),
    findTestingDevices(pool, deviceNames),
  ]);
  return {
    patient: (id) => subjects.get(id) ?? null,
    patientsWith(criteria) {
      const found = criteria.flatMap((identifier) => named.get(nameOf(identifier)) ?? []);
      return [...new Map(found.map((one) => [one.id, one])).values()];
    },
    device: (_type, id) => toKnown(told.get(id)),
    isTesting: (device) => testing.has(nameOf(device)),
  };
}

function toKnown(facts: ToldDeviceFacts | undefined): KnownDevice | null {
  if (facts === undefined) return null;
  const { identifier, testing, setting } = facts;
  return { identifier, test: testing, setting };
}
