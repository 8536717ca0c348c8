/** What the CapabilityStatement says of Provenance and AuditEvent. */
import type { CapabilityStatementRestResource } from 'fhir/r4.js';
import { AUDIT_PARAMETERS } from './audit-parameters.js';
import { declared } from './declare-search.js';
import { PROVENANCE_PARAMETERS } from './provenance-parameters.js';

/** What is never changed, and told by the gateway alone. */
const UNCHANGING: Partial<CapabilityStatementRestResource> = {
  interaction: [{ code: 'read' }, { code: 'vread' }, { code: 'search-type' }],
  versioning: 'versioned',
  readHistory: true,
  updateCreate: false,
  conditionalCreate: false,
  conditionalRead: 'full-support',
  conditionalUpdate: false,
  conditionalDelete: 'not-supported',
};

export function provenance(): CapabilityStatementRestResource {
  return {
    type: 'Provenance',
    documentation:
      'One for each published version of an Observation and each version of a Patient: who entered or changed it, by which program and device, from which bytes, and why. Made from what is kept of the version when it is asked for; it never changes. Shown to whoever may read it and its target. _sort takes recorded or _lastUpdated, also with a minus; without it, newest first.',
    ...UNCHANGING,
    searchParam: PROVENANCE_PARAMETERS.map(declared),
  };
}

export function auditEvents(): CapabilityStatementRestResource {
  return {
    type: 'AuditEvent',
    documentation:
      'One for each read, search, export, change, sign-in and refused access, for a scope that names AuditEvent. entity.query is the query with each value replaced by a keyed digest. An entry may become visible some seconds after its time: who follows asks again from some minutes back, and drops doubles by id. _sort takes date or _lastUpdated, also with a minus; without it, newest first.',
    ...UNCHANGING,
    searchParam: AUDIT_PARAMETERS.map(declared),
  };
}
