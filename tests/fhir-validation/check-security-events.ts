/**
 * What the JSON Schema leaves out of Provenance and AuditEvent: mandatory elements, the codes of value sets,
 * and what references may point to. Typed from the structure definitions, value sets and code systems of
 * FHIR R4 (4.0.1); codes of DICOM from the R4 examples and value sets of AuditEvent.
 */
import type { AuditEvent, CodeableConcept, Coding, Provenance, Reference } from 'fhir/r4.js';

const THO = 'http://terminology.hl7.org/CodeSystem/';
const DCM = 'http://dicom.nema.org/resources/ontology/DCM';

/** Value set provenance-activity-type, as far as it is of v3-DataOperation. */
const ACTIVITIES = ['CREATE', 'DELETE', 'UPDATE', 'APPEND', 'NULLIFY'];
/** Code system provenance-participant-type. */
const PARTICIPANTS = [
  ...['enterer', 'performer', 'author', 'verifier', 'legal', 'attester', 'informant'],
  ...['custodian', 'assembler', 'composer'],
];
const WHO = [
  ...['Practitioner', 'PractitionerRole', 'RelatedPerson', 'Patient', 'Device', 'Organization'],
];
/** Value set audit-event-type, as far as it is of DCM. */
const DCM_TYPES = Array.from({ length: 15 }, (_, n) => String(110_100 + n));
/** Value set audit-event-sub-type, as far as it is of DCM. */
const DCM_SUBTYPES = Array.from({ length: 23 }, (_, n) => String(110_120 + n));
/** Code system restful-interaction. */
const INTERACTIONS = [
  ...['read', 'vread', 'update', 'patch', 'delete', 'history', 'history-instance'],
  ...['history-type', 'history-system', 'create', 'search', 'search-type', 'search-system'],
  ...['capabilities', 'transaction', 'batch', 'operation'],
];
const OWN = 'urn:vital-sign-gateway:';

function isOf(coding: Coding, system: string, codes: readonly string[]): boolean {
  return coding.system === system && codes.includes(coding.code ?? '');
}

function anyCoding(concept: CodeableConcept | undefined, system: string, codes: readonly string[]) {
  return (concept?.coding ?? []).some((coding) => isOf(coding, system, codes));
}

/** A reference says what it points to: by a literal, an identifier with its system, or words. */
function referenceFaults(place: string, reference: Reference, types: readonly string[]): string[] {
  const { type, identifier, display } = reference;
  const literal = reference.reference;
  const [, named = type] = /^([A-Z]\w+)\//.exec(literal ?? '') ?? [];
  const says =
    literal !== undefined ||
    identifier !== undefined ||
    display !== undefined ||
    type !== undefined;
  return [
    ...(says ? [] : [`${place} says nothing`]),
    ...(named !== undefined && !types.includes(named) ? [`${place} points to ${named}`] : []),
    ...(identifier !== undefined && (identifier.system ?? '') === ''
      ? [`${place}: no system`]
      : []),
  ];
}

export function provenanceFaults(resource: Provenance): string[] {
  const faults: string[] = [];
  const claim = (holds: boolean, fault: string): void => {
    if (!holds) faults.push(fault);
  };
  claim(resource.target.length === 1, 'target 1..*');
  claim(
    resource.target.every(({ reference = '' }) =>
      /^(Observation|Patient)\/[A-Za-z0-9.-]{1,64}\/_history\/[1-9]\d*$/.test(reference),
    ),
    'target is not one version',
  );
  claim(/T.*Z$/.test(resource.recorded), 'recorded is no instant');
  claim(anyCoding(resource.activity, `${THO}v3-DataOperation`, ACTIVITIES), 'activity');
  claim(resource.agent.length > 0, 'agent 1..*');
  for (const one of resource.agent) {
    claim(anyCoding(one.type, `${THO}provenance-participant-type`, PARTICIPANTS), 'agent.type');
    faults.push(...referenceFaults('agent.who', one.who, WHO));
    if (one.onBehalfOf !== undefined) {
      faults.push(...referenceFaults('agent.onBehalfOf', one.onBehalfOf, WHO));
    }
  }
  for (const { what } of resource.entity ?? []) {
    faults.push(...referenceFaults('entity.what', what, ['Observation', 'Patient']));
  }
  return faults.map((fault) => `Provenance: ${fault}`);
}

export function auditEventFaults(resource: AuditEvent): string[] {
  const faults: string[] = [];
  const claim = (holds: boolean, fault: string): void => {
    if (!holds) faults.push(fault);
  };
  const { type, subtype = [], agent, source, entity = [] } = resource;
  claim(
    isOf(type, `${THO}audit-event-type`, ['rest']) ||
      isOf(type, DCM, DCM_TYPES) ||
      (type.system ?? '').startsWith(OWN),
    'type',
  );
  claim(
    subtype.every(
      (one) =>
        isOf(one, 'http://hl7.org/fhir/restful-interaction', INTERACTIONS) ||
        isOf(one, DCM, DCM_SUBTYPES) ||
        (one.system ?? '').startsWith(OWN),
    ),
    'subtype',
  );
  claim(/T.*Z$/.test(resource.recorded), 'recorded is no instant');
  claim(agent.length > 0, 'agent 1..*');
  claim(agent.filter(({ requestor }) => requestor).length <= 1, 'more than one initiator');
  for (const { who } of agent) {
    if (who !== undefined) faults.push(...referenceFaults('agent.who', who, WHO));
  }
  faults.push(...referenceFaults('source.observer', source.observer, WHO));
  for (const { query, detail = [], what } of entity) {
    claim(
      query === undefined || Buffer.from(query, 'base64').toString('base64') === query,
      'query is no base64',
    );
    claim(
      detail.every((one) => (one.valueString ?? '') !== ''),
      'entity.detail.value[x] 1..1',
    );
    if (what !== undefined) {
      faults.push(
        ...referenceFaults('entity.what', what, [
          'Observation',
          'Patient',
          'Provenance',
          'AuditEvent',
        ]),
      );
    }
  }
  return faults.map((fault) => `AuditEvent: ${fault}`);
}
