/** The search parameters of AuditEvent (SearchParameter resources of FHIR R4). */
import type { ActionSet, AuditCondition } from '../../store/find-audit.js';
import { CLIENT_SYSTEM } from './agents.js';
import { OUTCOME_CODES, actionsByCode, actionsBySubtype, actionsByType } from './audit-actions.js';
import { DEFINITIONS, knownIds, toIdentifierToken } from './search-parameter.js';
import type { SearchContext, SearchParameter } from './search-parameter.js';
import { resolveTime, timeRanges } from './search-times.js';
import { isId } from './site.js';
import { matchesToken, readPlain, readToken } from './token-values.js';
import type { Token } from './token-values.js';

const OUTCOME_SYSTEM = 'http://hl7.org/fhir/audit-event-outcome';

/** A reference without the base of this server. */
function readLocal(value: string, { baseUrl }: SearchContext): string {
  const text = readPlain(value);
  return text.startsWith(`${baseUrl}/`) ? text.slice(baseUrl.length + 1) : text;
}

function referredIds(types: string, values: readonly string[], context: SearchContext): string[] {
  const prefix = new RegExp(`^(?:${types})/`);
  return knownIds(values.map((value) => readLocal(value, context).replace(prefix, '')));
}

function entityCondition(values: readonly string[], context: SearchContext): AuditCondition {
  const entities = values.flatMap((value) => {
    const [, type, id] = /^([A-Z]\w+)\/([^/]+)/.exec(readLocal(value, context)) ?? [];
    if (type === undefined || id === undefined) return [];
    return type === 'Observation' ? [`${type}/${id}`, `readings/${id}`] : [`${type}/${id}`];
  });
  const patientIds = entities
    .filter((one) => one.startsWith('Patient/'))
    .map((one) => one.slice('Patient/'.length))
    .filter(isId);
  const isOfPatients = entities.every((one) => one.startsWith('Patient/'));
  if (isOfPatients) return { on: 'patient', ids: patientIds };
  return { on: 'entity', entities, patientIds };
}

/** What one of the values means, by one of the codings of an entry. */
function byAction(
  sets: (tokens: readonly Token[]) => ActionSet[],
): SearchParameter<AuditCondition>['condition'] {
  return (values) => ({ on: 'action', sets: sets(values.map(readToken)) });
}

function outcomeCondition(values: readonly string[]): AuditCondition {
  const tokens = values.map(readToken);
  const codes = OUTCOME_CODES.filter((code) =>
    tokens.some((token) => matchesToken(token, { system: OUTCOME_SYSTEM, code })),
  );
  return { on: 'outcome', codes };
}

function agentIdentifierCondition(values: readonly string[]): AuditCondition {
  const tokens = values.map(readToken);
  const clients = tokens.filter(({ system }) => system === undefined || system === CLIENT_SYSTEM);
  return {
    on: 'agent-identifier',
    clientIds: clients.map(({ code }) => code),
    people: tokens.map(toIdentifierToken),
  };
}

export const AUDIT_PARAMETERS: readonly SearchParameter<AuditCondition>[] = [
  {
    name: 'date',
    type: 'date',
    definition: `${DEFINITIONS}AuditEvent-date`,
    documentation: 'When it was recorded, to the millisecond.',
    condition: (values, context) => ({ on: 'recorded', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
  {
    name: 'patient',
    type: 'reference',
    definition: `${DEFINITIONS}AuditEvent-patient`,
    documentation:
      'The patient that it was about; also what was about a registration that was merged into it since.',
    condition: (values, context) => ({
      on: 'patient',
      ids: referredIds('Patient', values, context),
    }),
  },
  {
    name: 'agent',
    type: 'reference',
    definition: `${DEFINITIONS}AuditEvent-agent`,
    documentation:
      'The id of a client or of a person here; with :identifier the identifier of either, e.g. agent:identifier=urn:example:staff|N-311.',
    condition: (values, context) => ({
      on: 'agent',
      ids: referredIds('Device|Practitioner', values, context),
    }),
    // R4 §3.1.1.4.12: a reference by the identifier of what it refers to.
    forms: [{ name: 'agent:identifier', condition: agentIdentifierCondition }],
  },
  {
    name: 'entity',
    type: 'reference',
    definition: `${DEFINITIONS}AuditEvent-entity`,
    documentation: 'The resource that it was about, in any of its versions: Type/id.',
    condition: entityCondition,
  },
  {
    name: 'action',
    type: 'token',
    definition: `${DEFINITIONS}AuditEvent-action`,
    documentation: 'C, R, U, D or E.',
    condition: byAction(actionsByCode),
  },
  {
    name: 'type',
    type: 'token',
    definition: `${DEFINITIONS}AuditEvent-type`,
    documentation:
      'rest; of DICOM 110106 export, 110114 sign-in, 110100 processes of the gateway, 110101 clearing of the trail.',
    condition: byAction(actionsByType),
  },
  {
    name: 'subtype',
    type: 'token',
    definition: `${DEFINITIONS}AuditEvent-subtype`,
    documentation:
      'The interaction of FHIR that it was or is nearest to, or the gateway’s own word, e.g. decision-release.',
    condition: byAction(actionsBySubtype),
  },
  {
    name: 'outcome',
    type: 'token',
    definition: `${DEFINITIONS}AuditEvent-outcome`,
    documentation: '0 success, 4 refused or not there, 8 failed here, 12 a process was lost.',
    condition: outcomeCondition,
  },
  {
    name: '_id',
    type: 'token',
    definition: `${DEFINITIONS}Resource-id`,
    documentation: 'Logical ids.',
    condition: (values) => ({ on: 'id', ids: knownIds(values) }),
  },
  {
    name: '_lastUpdated',
    type: 'date',
    definition: `${DEFINITIONS}Resource-lastUpdated`,
    documentation: 'As date: an AuditEvent never changes.',
    condition: (values, context) => ({ on: 'recorded', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
];
