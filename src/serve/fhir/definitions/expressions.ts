/**
 * Where the values of search parameters stand, as FHIRPath: the expressions of the SearchParameter
 * resources of FHIR R4 (4.0.1), cut to the one type that each is declared for.
 */
import type { CapabilityStatementRestResource } from 'fhir/r4.js';

export type ResourceType = CapabilityStatementRestResource['type'];

export const EXPRESSIONS: Readonly<Record<string, string>> = {
  'Observation.patient': 'Observation.subject.where(resolve() is Patient)',
  'Observation.subject': 'Observation.subject',
  'Observation.category': 'Observation.category',
  'Observation.code': 'Observation.code',
  'Observation.combo-code': 'Observation.code | Observation.component.code',
  'Observation.component-code': 'Observation.component.code',
  'Observation.date': 'Observation.effective',
  'Observation.status': 'Observation.status',
  'Observation.value-quantity': '(Observation.value as Quantity)',
  'Observation.component-value-quantity': '(Observation.component.value as Quantity)',
  'Observation.combo-value-quantity':
    '(Observation.value as Quantity) | (Observation.component.value as Quantity)',
  'Observation.code-value-quantity': 'Observation',
  'Observation.component-code-value-quantity': 'Observation.component',
  'Observation.combo-code-value-quantity': 'Observation | Observation.component',
  'Observation.data-absent-reason': 'Observation.dataAbsentReason',
  'Observation.component-data-absent-reason': 'Observation.component.dataAbsentReason',
  'Observation.combo-data-absent-reason':
    'Observation.dataAbsentReason | Observation.component.dataAbsentReason',
  'Observation.method': 'Observation.method',
  'Observation.device': 'Observation.device',
  'Observation.performer': 'Observation.performer',
  'Observation.encounter': 'Observation.encounter',
  'Observation.has-member': 'Observation.hasMember',
  'Observation.derived-from': 'Observation.derivedFrom',
  'Observation.based-on': 'Observation.basedOn',
  'Observation.part-of': 'Observation.partOf',
  'Observation.focus': 'Observation.focus',
  'Observation.specimen': 'Observation.specimen',
  'Observation.identifier': 'Observation.identifier',
  'Patient.identifier': 'Patient.identifier',
  'Device.identifier': 'Device.identifier',
  'Encounter.identifier': 'Encounter.identifier',
  'Encounter.patient': 'Encounter.subject.where(resolve() is Patient)',
  'Practitioner.identifier': 'Practitioner.identifier',
  'Provenance.target': 'Provenance.target',
  'Provenance.patient': 'Provenance.target.where(resolve() is Patient)',
  'Provenance.recorded': 'Provenance.recorded',
  'AuditEvent.date': 'AuditEvent.recorded',
  'AuditEvent.patient':
    'AuditEvent.agent.who.where(resolve() is Patient) | AuditEvent.entity.what.where(resolve() is Patient)',
  'AuditEvent.agent': 'AuditEvent.agent.who',
  'AuditEvent.entity': 'AuditEvent.entity.what',
  'AuditEvent.action': 'AuditEvent.action',
  'AuditEvent.type': 'AuditEvent.type',
  'AuditEvent.subtype': 'AuditEvent.subtype',
  'AuditEvent.outcome': 'AuditEvent.outcome',
  'Location.name': 'Location.name | Location.alias',
  'Subscription.url': 'Subscription.channel.endpoint',
  'Subscription.status': 'Subscription.status',
  'Subscription.criteria': 'Subscription.criteria',
};

/** Parameters that every type has (FHIR R4 §3.1.1.4.6). */
export const COMMON_EXPRESSIONS: Readonly<Record<string, string>> = {
  _id: 'Resource.id',
  _lastUpdated: 'Resource.meta.lastUpdated',
  _tag: 'Resource.meta.tag',
  _profile: 'Resource.meta.profile',
  _security: 'Resource.meta.security',
  _source: 'Resource.meta.source',
};

/** The two parts of composite parameters: the code, and the value beside it. */
export const COMPOSITE_PARTS = [
  { of: 'code', expression: 'code' },
  { of: 'value-quantity', expression: 'value.as(Quantity)' },
] as const;

/** What references lead to here. */
export const TARGETS: Readonly<Record<string, readonly ResourceType[]>> = {
  patient: ['Patient'],
  subject: ['Patient'],
  device: ['Device'],
  performer: ['Practitioner'],
  encounter: ['Encounter'],
  'has-member': ['Observation'],
  'derived-from': ['Observation'],
  target: ['Observation', 'Patient'],
  agent: ['Device', 'Practitioner'],
  entity: [
    'Observation',
    'Patient',
    'Device',
    'Encounter',
    'Practitioner',
    'Location',
    'Provenance',
  ],
};
