import { createHash } from 'node:crypto';
import type {
  CapabilityStatement,
  CapabilityStatementRestResource,
  CapabilityStatementRestResourceOperation,
} from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { VITALS } from '../../vitals/words.js';
import { MAX_DELIVERY_BYTES, MAX_DELIVERY_ENTRIES } from './bundle-answers.js';
import { DEFINITION_PARAMETERS } from './definitions/definition-parameters.js';
import { declared, included } from './declare-search.js';
import { DIRECTORY_TYPES } from './directory-answers.js';
import type { DirectoryType } from './directory-answers.js';
import type { FhirAnswer } from './fhir-handler.js';
import { DEFAULT_COUNT, MAX_COUNT } from './result-parameters.js';
import { OBSERVATION_INCLUDES } from './observation-includes.js';
import { PATIENT_INCLUDES } from './patient-answers.js';
import { PANEL_PROFILES } from './render-panel.js';
import { US_CORE_PATIENT } from './render-patient.js';
import { OBSERVATION_PARAMETERS, PATIENT_PARAMETERS } from './search-parameters.js';
import { STATISTIC_CODES } from './statistics.js';
import { auditEvents, provenance } from './unchanging-capabilities.js';
import {
  EVENTS_OPERATION,
  SERVER_STATEMENT,
  STATUS_OPERATION,
  SUBSCRIPTION_PROFILE,
  TOPIC_EXTENSION,
} from './subscriptions/guide.js';
import { MAX_EVENTS } from './subscriptions/operations.js';
import { SUBSCRIPTION_PARAMETERS } from './subscriptions/subscription-search.js';
import { TOPICS, topicUrl } from './subscriptions/topics.js';

/** When what this server can do last changed. */
const CAPABILITIES_DATE = '2026-11-26';
const VITAL_SIGNS_PROFILE = 'http://hl7.org/fhir/StructureDefinition/vitalsigns';
const SECURITY_SERVICES = 'http://terminology.hl7.org/CodeSystem/restful-security-service';

const SEARCHING = `_summary, _elements, _total, _count and _sort are taken; a resource shown in part has the tag SUBSETTED. Prefer: handling=strict refuses every parameter that is not offered, handling=lenient passes over them. Without either, a parameter is refused if the result would be wider without it, and passed over if it only shapes the answer (an _include or _revinclude that is not offered, _contained). Pages have ${DEFAULT_COUNT} matches unless _count says otherwise, ${MAX_COUNT} at most; the pages of one search show the state of its first page. The outcome entry of a first page says how many held, unpublished readings the search would have met. Times without an offset are those of the site; ap takes a tenth of the time from the last change of the site.`;

const OBSERVATION_SEARCHING = `_summary, _elements, _total, _count and _sort are taken; a resource shown in part has the tag SUBSETTED. _sort takes date, _lastUpdated and _id, one or several with commas, each also with a minus; without it, measurements come newest first where a patient is named, else in order of publication. A reader that asks _lastUpdated=gt[greatest seen]&_sort=_lastUpdated and follows the next links to the end misses no change and meets no unchanged Observation twice.`;

const BATCH = `Entries that register a Patient (up to 1000), or that send in what a transaction may hold; each by itself.`;
const TRANSACTION = `Up to ${MAX_DELIVERY_ENTRIES} entries and ${MAX_DELIVERY_BYTES / 1024} KiB: POST of Observation (also ifNoneExist), Patient, Device, DeviceMetric, Practitioner, Encounter and Location, and PUT Device?identifier=system|value. References lead to other entries by fullUrl, to contained resources, to Patients here by id or Patient?identifier=system|value, or name an identifier. Observations of one patient are judged together. Nobody is registered: a Patient is the registered one of its identifier, or its readings wait. Of Device and DeviceMetric the identifier, the place in the device and the operating mode are kept for references, and no scope but Observation.c is needed. Provenance is refused. A fault of form, reference or condition fails the whole; an Observation that the rules hold or reject, or that is no vital sign, answers its entry with 202 and an OperationOutcome.`;

const BULK = 'http://hl7.org/fhir/uv/bulkdata/';
const EXPORTING = `Asynchronous (Prefer: respond-async), by GET, or by POST with a Parameters resource; files are ndjson. Offered: _outputFormat, _since, _until, _type and _typeFilter (searches of Observation), and patient by POST for patients and Groups; others are refused unless handling is lenient. An export shows the state of the site at its transactionTime, and belongs to the client that asked; its files are handed out for 24 hours, with a token whose scopes cover them. Nothing is deleted here: what was withdrawn comes as entered-in-error.`;
const WARDS = `Wards as Groups of the patients who are there now, without their members. The id is the path of the place, each byte but letters, digits and hyphens written as a dot and two hexadecimal digits.`;

/** The operation `export` as the level defines it (Bulk Data Access, OperationDefinitions). */
function exporting(
  level: 'export' | 'patient-export' | 'group-export',
): CapabilityStatementRestResourceOperation[] {
  const definition = `${BULK}OperationDefinition/${level}`;
  return [{ name: 'export', definition, documentation: EXPORTING }];
}

type Interactions = NonNullable<CapabilityStatementRestResource['interaction']>;

const READING: Interactions = [
  { code: 'read' },
  { code: 'vread' },
  { code: 'history-instance' },
  { code: 'history-type' },
  { code: 'search-type' },
];

const OPERATIONS: NonNullable<CapabilityStatementRestResource['operation']> = [
  {
    name: 'lastn',
    definition: 'http://hl7.org/fhir/OperationDefinition/Observation-lastn',
    documentation:
      'By GET. Of each patient and code; whatever carries one required code is one group. Observations that are entered-in-error count unless status says otherwise.',
  },
  {
    name: 'stats',
    definition: 'http://hl7.org/fhir/OperationDefinition/Observation-stats',
    documentation: `By GET and POST. Reckons ${STATISTIC_CODES.join(', ')}; what is entered-in-error or cancelled does not count, and how much is preliminary is noted. By GET a period is start/end and a coding system|code.`,
  },
];

/** How Observations are sent in, and what becomes of each element. */
function sendingIn(elements: string): string {
  return `A create is answered 201 with Location and ETag once the reading is published, 200 when it was kept before, 202 with an OperationOutcome and no Location while it is held for review, and 422 when it cannot be carried, is no vital sign, or is rejected; all are kept. If-None-Exist takes identifier=system|value: of the same reading the first one stands, of another 409 is answered. An Observation that is amended, corrected or entered-in-error speaks of one that the same source has sent, found by an identifier or else by patient, sign, device and second: that one gets a new version, answered 200; its subject never changes. Without one a correction is taken as new with a note, and entered-in-error is refused. ${elements}`;
}

function observations(elements: string): CapabilityStatementRestResource {
  const profiles = VITALS.flatMap((vital) => {
    const { profile, usCoreProfile } = CATALOGUE[vital];
    return usCoreProfile === null ? [profile] : [profile, usCoreProfile];
  });
  return {
    type: 'Observation',
    profile: VITAL_SIGNS_PROFILE,
    supportedProfile: [...new Set([...profiles, ...PANEL_PROFILES])],
    documentation: `${OBSERVATION_SEARCHING} ${sendingIn(elements)}`,
    interaction: [...READING, { code: 'create' }],
    versioning: 'versioned',
    readHistory: true,
    updateCreate: false,
    conditionalCreate: true,
    conditionalRead: 'full-support',
    conditionalUpdate: false,
    conditionalDelete: 'not-supported',
    operation: OPERATIONS,
    ...included(OBSERVATION_INCLUDES),
    searchParam: OBSERVATION_PARAMETERS.map(declared),
  };
}

function patients(): CapabilityStatementRestResource {
  return {
    type: 'Patient',
    supportedProfile: [US_CORE_PATIENT],
    documentation:
      'A Patient is registered, and changed, by a conditional update: PUT Patient?identifier=system|value, alone or in a batch. Updates by id are not offered.',
    // Not "update": that would claim PUT Patient/[id] as well.
    interaction: READING,
    versioning: 'versioned',
    readHistory: true,
    updateCreate: false,
    conditionalCreate: false,
    conditionalRead: 'full-support',
    conditionalUpdate: true,
    conditionalDelete: 'not-supported',
    ...included(PATIENT_INCLUDES),
    searchParam: PATIENT_PARAMETERS.map(declared),
    operation: exporting('patient-export'),
  };
}

function wards(): CapabilityStatementRestResource {
  return {
    type: 'Group',
    documentation: WARDS,
    interaction: [{ code: 'read' }, { code: 'search-type' }],
    operation: exporting('group-export'),
  };
}

function definitions(
  type: 'SearchParameter' | 'OperationDefinition',
): CapabilityStatementRestResource {
  return {
    type,
    documentation: 'Made from this statement; each is derived from the definition of the standard.',
    interaction: [{ code: 'read' }, { code: 'search-type' }],
    searchParam: DEFINITION_PARAMETERS[type].map(declared),
  };
}

function directory({
  type,
  documentation,
  parameters,
}: DirectoryType): CapabilityStatementRestResource {
  return {
    type,
    documentation,
    interaction: [{ code: 'read' }, { code: 'search-type' }],
    versioning: 'no-version',
    readHistory: false,
    updateCreate: false,
    conditionalCreate: false,
    conditionalRead: 'not-supported',
    conditionalUpdate: false,
    conditionalDelete: 'not-supported',
    searchParam: parameters.map(declared),
  };
}

const EVENTS = `At most ${MAX_EVENTS} events an answer, also those still to be delivered; of what was delivered the last 100,000, for seven days.`;
const SUBSCRIBING = `Topic-based, after the Subscriptions R5 Backport guide. criteria is one of the topics named here: ${TOPICS.map(({ name, about }) => `${name} (${about})`).join('; ')}. Filters (backport-filter-criteria) are searches of Observation by its search parameters, all to be met: Observation?code=8867-4. Channel rest-hook, payload application/fhir+json with empty, id-only or full-resource. A new Subscription is requested, active once its endpoint has answered the handshake with 2xx, and error when it has not. Events are delivered in order, each at least once; what fails is sent again for a day, then the Subscription is in error, and its owner sends it again as requested. Of an endpoint that answers 410 it is off. Topic and filters never change. A Subscription is there for its owner alone, and delivers only what its owner may read at that moment. Values of channel.header are never shown; sent back as they are shown, they stay.`;

function subscriptions(baseUrl: string): CapabilityStatementRestResource {
  return {
    extension: TOPICS.map(({ name }) => ({
      url: TOPIC_EXTENSION,
      valueCanonical: topicUrl(baseUrl, name),
    })),
    type: 'Subscription',
    supportedProfile: [SUBSCRIPTION_PROFILE],
    documentation: SUBSCRIBING,
    interaction: [
      { code: 'create' },
      { code: 'read' },
      { code: 'update' },
      { code: 'delete' },
      { code: 'search-type' },
    ],
    versioning: 'versioned',
    readHistory: false,
    updateCreate: false,
    conditionalCreate: false,
    conditionalRead: 'full-support',
    conditionalUpdate: false,
    conditionalDelete: 'not-supported',
    searchParam: SUBSCRIPTION_PARAMETERS.map(declared),
    operation: [
      { name: 'status', definition: STATUS_OPERATION, documentation: 'Of one, or of all own.' },
      { name: 'events', definition: EVENTS_OPERATION, documentation: EVENTS },
    ],
  };
}

/**
 * What this server can do (R4 CapabilityStatement; cpb-14: an instance states its implementation).
 * @param elements what becomes of the elements of an Observation that is sent in
 */
export function renderCapabilities(
  baseUrl: string,
  softwareVersion: string,
  elements: string,
): CapabilityStatement {
  return {
    resourceType: 'CapabilityStatement',
    status: 'active',
    date: CAPABILITIES_DATE,
    kind: 'instance',
    instantiates: [`${BULK}CapabilityStatement/bulk-data`, SERVER_STATEMENT],
    software: { name: 'Vital-sign gateway', version: softwareVersion },
    implementation: { description: 'Vital-sign gateway of a site', url: baseUrl },
    fhirVersion: '4.0.1',
    format: ['application/fhir+json', 'json'],
    rest: [
      {
        mode: 'server',
        documentation: SEARCHING,
        security: {
          cors: false,
          service: [
            {
              coding: [
                { system: SECURITY_SERVICES, code: 'SMART-on-FHIR', display: 'SMART-on-FHIR' },
              ],
              text: 'SMART Backend Services: OAuth2 client credentials with system scopes of v1 and v2',
            },
          ],
          description:
            'How to get a token stands in .well-known/smart-configuration under this base; that and this statement ask for none. Everything else asks for one with system scopes: Observation.r to read, Observation.s to search, likewise Patient, Group, Device, Encounter, Practitioner, Location, Provenance, SearchParameter and OperationDefinition; what _include or _revinclude would bring is left out where it may not be read; Observation.c to send in, Patient.cu to register, AuditEvent.rs and Subscription.cruds, which no wildcard includes. Scopes for reading Observations may be narrowed by category, code, combo-code and status; what such a token may not see is answered as not there, and a search says that it was narrowed.',
        },
        resource: [
          ...[observations(elements), patients(), provenance(), auditEvents(), wards()],
          ...DIRECTORY_TYPES.map(directory),
          ...(['SearchParameter', 'OperationDefinition'] as const).map(definitions),
          subscriptions(baseUrl),
        ],
        operation: exporting('export'),
        interaction: [
          { code: 'batch', documentation: BATCH },
          { code: 'transaction', documentation: TRANSACTION },
        ],
      },
    ],
  };
}

/** The statement as it is answered; its tag changes with its content. */
export function capabilitiesAnswer(statement: CapabilityStatement): FhirAnswer {
  const text = JSON.stringify(statement);
  const hash = createHash('sha256').update(text).digest('base64url').slice(0, 22);
  const sinceMs = Date.parse(CAPABILITIES_DATE);
  return { status: 200, text, version: { etag: `W/"${hash}"`, sinceMs, replacedSinceMs: null } };
}
