/** Everything that the checks of this folder find wrong with a resource, given as the text that goes over the wire. */
import type { AuditEvent, Observation, OperationOutcome, Patient, Provenance } from 'fhir/r4.js';
import { narrativeFaults } from './check-narrative.js';
import { profileFaults } from './check-profiles.js';
import { auditEventFaults, provenanceFaults } from './check-security-events.js';
import { invariantFaults } from './invariants.js';
import { schemaFaults } from './r4-json-schema.js';

type Checked = Observation | Patient | Provenance | AuditEvent | OperationOutcome;

/** An empty list means: conforms, as far as the checks here see. */
export function resourceFaults(json: string): string[] {
  const resource = JSON.parse(json) as Checked;
  const schema = schemaFaults(resource.resourceType, resource);
  if (schema.length > 0) return schema;
  return [
    ...invariantFaults(resource),
    ...(resource.text === undefined ? [] : narrativeFaults(resource.text.div)),
    ...(resource.resourceType === 'Observation' ? profileFaults(resource) : []),
    ...(resource.resourceType === 'Provenance' ? provenanceFaults(resource) : []),
    ...(resource.resourceType === 'AuditEvent' ? auditEventFaults(resource) : []),
  ];
}
