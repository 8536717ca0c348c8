/**
 * A transaction of FHIR R4: of personal devices as the HL7 Personal Health Device guide has it, of monitors
 * as the Point-of-Care Device guide does.
 */
import type { Bundle, BundleEntry, FhirResource } from 'fhir/r4.js';
import { v5 as uuidv5 } from 'uuid';
import type { Measurement } from '../measurement.js';
import { describeDevice } from './describe-device.js';
import { patientResource } from './patient-resource.js';
import { toText, writeObservation } from './write-observation.js';

type Entry = BundleEntry<FhirResource>;

/** @param messageId a UUID of its own for each message */
export function writeBundle(measurement: Measurement, messageId: string): string {
  const { device, claimed, samples, takenAt } = measurement;
  const urlOf = (name: string): string => `urn:uuid:${uuidv5(name, messageId)}`;
  const { entries, deviceOf } = describeDevice(measurement, urlOf);
  const around = {
    subject: urlOf('patient'),
    visit: claimed.visit,
    operator: device.operator,
    isPersonal: device.kind !== 'monitor',
  };
  const { system, value } = claimed.identifier;
  const patient: Entry = {
    fullUrl: urlOf('patient'),
    resource: patientResource(claimed),
    request: { method: 'POST', url: 'Patient', ifNoneExist: `identifier=${system}|${value}` },
  };
  const observations = samples.map((sample, index): Entry => ({
    fullUrl: urlOf(`observation ${index}`),
    resource: writeObservation(sample, takenAt, { ...around, device: deviceOf(sample) }),
    request: { method: 'POST', url: 'Observation' },
  }));
  const bundle: Bundle<FhirResource> = {
    resourceType: 'Bundle',
    type: 'transaction',
    entry: [patient, ...entries, ...observations],
  };
  return toText(bundle);
}
