import type {
  AuditEvent,
  AuditEventAgent,
  AuditEventEntity,
  AuditEventEntityDetail,
  Coding,
} from 'fhir/r4.js';
import type { KeptAudit } from '../../store/find-audit.js';
import {
  GATEWAY,
  GATEWAY_NAME,
  personReference,
  programReference,
  sourceReference,
} from './agents.js';
import { actionCodeOf, codingsOf, isOwnDoing, outcomeOf } from './audit-actions.js';
import { renderNarrative } from './render-narrative.js';
import { URI_SYSTEM } from './render-observation.js';

const ENTITY_TYPES = 'http://terminology.hl7.org/CodeSystem/audit-entity-type';
const ROLES = 'http://terminology.hl7.org/CodeSystem/object-role';
const ENTITY_SYSTEM = 'urn:vital-sign-gateway:entity';

const PERSON: Coding = { system: ENTITY_TYPES, code: '1', display: 'Person' };
const SYSTEM_OBJECT: Coding = { system: ENTITY_TYPES, code: '2', display: 'System Object' };
const PATIENT: Coding = { system: ROLES, code: '1', display: 'Patient' };
const DOMAIN_RESOURCE: Coding = { system: ROLES, code: '4', display: 'Domain Resource' };
const QUERY: Coding = { system: ROLES, code: '24', display: 'Query' };
const SOURCE_ROLE: Coding = {
  system: 'http://dicom.nema.org/resources/ontology/DCM',
  code: '110153',
  display: 'Source Role ID',
};
const HUMAN: Coding = {
  system: 'http://terminology.hl7.org/CodeSystem/extra-security-role-type',
  code: 'humanuser',
  display: 'human user',
};
const APPLICATION_SERVER: Coding = {
  system: 'http://terminology.hl7.org/CodeSystem/security-source-type',
  code: '4',
  display: 'Application Server',
};

const RESOURCE = /^([A-Z][A-Za-z]+)\/[^:/]+$/;
const READING = /^readings\/([0-9a-f-]{36})$/;

const UNKNOWN = 'Somebody unknown';

/** An entry of the audit trail as FHIR R4 AuditEvent; it never changes, so that its version is always 1. */
export function renderAuditEvent(entry: KeptAudit): AuditEvent {
  const { id, action, outcome } = entry;
  const recorded = new Date(entry.recordedMs).toISOString();
  return {
    resourceType: 'AuditEvent',
    id,
    meta: { versionId: '1', lastUpdated: recorded },
    text: renderNarrative([describe(entry, recorded)]),
    ...codingsOf(action),
    action: actionCodeOf(action),
    period: { start: new Date(entry.atMs).toISOString() },
    recorded,
    outcome: outcomeOf(action, outcome),
    outcomeDesc: describeOutcome(outcome),
    agent: agentsOf(entry),
    source: {
      observer: observerOf(entry),
      type: [APPLICATION_SERVER],
    },
    ...entitiesOf(entry),
  };
}

function describeOutcome(status: number): string {
  return status === 0 ? 'The client left before an answer began' : `HTTP ${status}`;
}

function describe(
  { action, entity, client, person, source, outcome }: KeptAudit,
  recorded: string,
): string {
  const nobody = isOwnDoing(action) ? GATEWAY_NAME : (source?.name ?? UNKNOWN.toLowerCase());
  const who = person?.value ?? client?.name ?? nobody;
  const what = entity === null ? '' : ` ${entity}`;
  return `${recorded}: ${action}${what} by ${who}. ${describeOutcome(outcome)}.`;
}

/** Whoever asked, or what did it by itself: one of them is the initiator. */
function agentsOf({ action, client, person, source, address }: KeptAudit): AuditEventAgent[] {
  const network = address === null ? {} : { network: { address, type: '2' as const } };
  const human = person === null ? [] : [humanAgent(person)];
  if (client !== null) {
    const program: AuditEventAgent = {
      type: { coding: [SOURCE_ROLE] },
      who: programReference(client),
      name: client.name,
      requestor: person === null,
      ...network,
    };
    return [...human, program];
  }
  if (isOwnDoing(action)) return [{ who: GATEWAY, requestor: true }];
  if (source !== null) return [{ who: sourceReference(source), requestor: true }];
  return human.length > 0 ? human : [{ who: { display: UNKNOWN }, requestor: true, ...network }];
}

function humanAgent(person: NonNullable<KeptAudit['person']>): AuditEventAgent {
  return { type: { coding: [HUMAN] }, who: personReference(person), requestor: true };
}

function observerOf({ writerId }: KeptAudit): AuditEvent['source']['observer'] {
  if (writerId === null) return GATEWAY;
  const identifier = { system: URI_SYSTEM, value: `urn:uuid:${writerId}` };
  return { type: 'Device', identifier, display: GATEWAY_NAME };
}

function entitiesOf(entry: KeptAudit): Pick<AuditEvent, 'entity'> {
  const { entity, patientId } = entry;
  const main = mainEntity(entry);
  const patient: AuditEventEntity | null =
    patientId === null || entity === `Patient/${patientId}`
      ? null
      : {
          what: { reference: `Patient/${patientId}`, type: 'Patient' },
          type: PERSON,
          role: PATIENT,
        };
  const all = [main, patient].filter((one) => one !== null);
  return all.length === 0 ? {} : { entity: all };
}

function mainEntity({ entity, action, detail, requestId }: KeptAudit): AuditEventEntity | null {
  const { query, version, ...others } = detail;
  const details = detailsOf({ 'X-Request-Id': requestId, ...others });
  const pairs = Array.isArray(query) ? (query as [string, string][]) : null;
  if (entity === null && pairs === null && details.length === 0) return null;
  const isSearch = action === 'fhir-search' || pairs !== null;
  return {
    ...(entity === null ? {} : { what: whatOf(entity, version) }),
    type: entity?.startsWith('Patient/') === true ? PERSON : SYSTEM_OBJECT,
    ...(roleOf(entity, isSearch) ?? {}),
    ...(isSearch ? { query: queryOf(entity ?? '', pairs ?? []) } : {}),
    ...(details.length === 0 ? {} : { detail: details }),
  };
}

function roleOf(entity: string | null, isSearch: boolean): { role: Coding } | null {
  if (isSearch) return { role: QUERY };
  if (entity === null) return null;
  if (entity.startsWith('Patient/')) return { role: PATIENT };
  return RESOURCE.test(entity) || READING.test(entity) ? { role: DOMAIN_RESOURCE } : null;
}

function whatOf(entity: string, version: unknown): NonNullable<AuditEventEntity['what']> {
  const [, type] = RESOURCE.exec(entity) ?? [];
  if (type !== undefined) {
    const of = typeof version === 'number' ? `/_history/${version}` : '';
    return { reference: `${entity}${of}`, type };
  }
  const [, reading] = READING.exec(entity) ?? [];
  const identifier = { system: ENTITY_SYSTEM, value: entity };
  // Published or not, it is the Observation of this id.
  if (reading === undefined) return { identifier };
  return { reference: `Observation/${reading}`, type: 'Observation', identifier };
}

/** The search as it was asked, each value replaced by its digest. */
function queryOf(path: string, pairs: readonly (readonly [string, string])[]): string {
  const query = pairs.map(([name, digest]) => `${name}=${digest}`).join('&');
  return Buffer.from(query === '' ? path : `${path}?${query}`).toString('base64');
}

/** A detail for each value; lists are ids. */
function detailsOf(facts: Readonly<Record<string, unknown>>): AuditEventEntityDetail[] {
  return Object.entries(facts).flatMap(([type, value]) =>
    (Array.isArray(value) ? (value as unknown[]) : [value]).flatMap((one) =>
      one === null || one === undefined
        ? []
        : [{ type, valueString: typeof one === 'string' ? one : JSON.stringify(one) }],
    ),
  );
}
