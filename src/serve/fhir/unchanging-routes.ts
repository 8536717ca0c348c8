/** Provenance and AuditEvent: read and searched. What never changes has one version. */
import type { Caller, Route } from '../http/route.js';
import { readAuditEvent, searchAuditEvents } from './audit-answers.js';
import { AUDIT_PARAMETERS } from './audit-parameters.js';
import { fhirHandler } from './fhir-handler.js';
import { readProvenance, searchProvenance } from './provenance-answers.js';
import { PROVENANCE_PARAMETERS } from './provenance-parameters.js';
import { reading, search } from './route-kinds.js';
import type { FhirSite } from './site.js';

function readings(
  type: 'Provenance' | 'AuditEvent',
  what: string,
  handler: Parameters<typeof reading>[3],
): Route[] {
  const one = `/fhir/${type}/:id`;
  return [
    reading(one, `system/${type}.r`, what, handler),
    reading(`${one}/_history/:vid`, `system/${type}.r`, 'The same; its version is 1', handler),
  ];
}

export function provenanceRoutes(site: FhirSite): Route[] {
  return [
    ...search(
      'Provenance',
      PROVENANCE_PARAMETERS,
      fhirHandler((pairs, req, caller: Caller) => searchProvenance(site, pairs, req, caller)),
    ),
    ...readings(
      'Provenance',
      'How one version of an Observation or a Patient came to be',
      fhirHandler((_, req, caller: Caller) => readProvenance(site, req, caller)),
    ),
  ];
}

export function auditRoutes(site: FhirSite): Route[] {
  return [
    ...search(
      'AuditEvent',
      AUDIT_PARAMETERS,
      fhirHandler((pairs, req) => searchAuditEvents(site, pairs, req)),
    ),
    ...readings(
      'AuditEvent',
      'An entry of the audit trail',
      fhirHandler((_, req) => readAuditEvent(site, req)),
    ),
  ];
}
