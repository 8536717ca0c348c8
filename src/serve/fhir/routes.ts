import { VERSION } from '../../version.js';
import { zoneClock } from '../../vitals/zone-time.js';
import type { Area, Caller, ParameterSpec, Route } from '../http/route.js';
import { MAX_BATCH_BYTES, MAX_DELIVERY_BYTES, postBundle } from './bundle-answers.js';
import { createObservation } from './create-observation.js';
import type { DeliveryServices } from './delivery-services.js';
import { definitionRoutes } from './definitions/definition-routes.js';
import { renderDefinitions } from './definitions/render-definitions.js';
import { directoryRoutes } from './directory-routes.js';
import { fhirHandler } from './fhir-handler.js';
import { capabilitiesAnswer, renderCapabilities } from './metadata.js';
import { lastObservations } from './last-observations.js';
import { listHistory, readNewest, readVersion } from './kept-versions.js';
import { OBSERVATIONS, searchObservations } from './observation-answers.js';
import { OBSERVATION_INCLUDES } from './observation-includes.js';
import { PATIENT_INCLUDES, PATIENTS, searchPatients } from './patient-answers.js';
import { auditRoutes, provenanceRoutes } from './unchanging-routes.js';
import { MAX_PATIENT_BYTES, putPatient } from './registration-answers.js';
import { OBSERVATION_PARAMETERS, PATIENT_PARAMETERS } from './search-parameters.js';
import {
  CONDITIONAL,
  FORM,
  NOT_MODIFIED,
  REFUSALS,
  fhirBody,
  fhirResponse,
  history,
  operation,
  reading,
  search,
} from './route-kinds.js';
import type { FhirSite } from './site.js';
import { statisticsRoutes } from './statistics-routes.js';
import { subscriptionRoutes } from './subscriptions/routes.js';
import type { SubscriptionServices } from './subscriptions/subscription-services.js';

export interface FhirSettings extends Pick<FhirSite, 'pool' | 'onRegistered'> {
  /** Base of every absolute link, without a slash at its end. */
  readonly publicUrl: string;
  /** IANA name of the zone of times without an offset. */
  readonly siteZone: string;
  readonly deliveries: DeliveryServices;
  readonly subscriptions: Omit<SubscriptionServices, 'baseUrl' | 'siteMs' | 'intake'>;
}

function observationRoutes(site: FhirSite): Route[] {
  const one = '/fhir/Observation/:id';
  const listing = fhirHandler((pairs, req, caller: Caller) =>
    listHistory(OBSERVATIONS, site, pairs, req, caller),
  );
  return [
    ...search(
      'Observation',
      OBSERVATION_PARAMETERS,
      fhirHandler((pairs, req, caller: Caller) => searchObservations(site, pairs, req, caller)),
      OBSERVATION_INCLUDES,
    ),
    operation(
      '/fhir/Observation/$lastn',
      'system/Observation.s',
      'The newest measurements of each code (operation lastn)',
      [{ name: 'max', in: 'query', description: 'How many of each code; 1 when absent' }],
      OBSERVATION_PARAMETERS,
      fhirHandler((pairs, req, caller: Caller) => lastObservations(site, pairs, req, caller)),
    ),
    history(
      '/fhir/Observation/_history',
      'system/Observation.s',
      'All versions, newest first',
      listing,
    ),
    reading(
      one,
      'system/Observation.r',
      'The newest version of an Observation',
      fhirHandler((_, req, caller: Caller) => readNewest(OBSERVATIONS, site, req, caller)),
    ),
    history(`${one}/_history`, 'system/Observation.r', 'The versions of an Observation', listing),
    reading(
      `${one}/_history/:vid`,
      'system/Observation.r',
      'One version of an Observation',
      fhirHandler((_, req, caller: Caller) => readVersion(OBSERVATIONS, site, req, caller)),
    ),
  ];
}

function patientRoutes(site: FhirSite): Route[] {
  const one = '/fhir/Patient/:id';
  const listing = fhirHandler((pairs, req, caller: Caller) =>
    listHistory(PATIENTS, site, pairs, req, caller),
  );
  return [
    ...search(
      'Patient',
      PATIENT_PARAMETERS,
      fhirHandler((pairs, req, caller: Caller) => searchPatients(site, pairs, req, caller)),
      PATIENT_INCLUDES,
    ),
    history('/fhir/Patient/_history', 'system/Patient.s', 'All versions, newest first', listing),
    reading(
      one,
      'system/Patient.r',
      'The newest version of a Patient',
      fhirHandler((_, req, caller: Caller) => readNewest(PATIENTS, site, req, caller)),
    ),
    history(`${one}/_history`, 'system/Patient.r', 'The versions of a Patient', listing),
    reading(
      `${one}/_history/:vid`,
      'system/Patient.r',
      'One version of a Patient',
      fhirHandler((_, req, caller: Caller) => readVersion(PATIENTS, site, req, caller)),
    ),
  ];
}

function registrationRoutes(site: FhirSite): Route[] {
  return [
    {
      method: 'put',
      path: '/fhir/Patient',
      scopes: ['system/Patient.cu'],
      summary: 'Registers a Patient by identifier (conditional update)',
      parameters: [
        {
          name: 'identifier',
          in: 'query',
          required: true,
          description: 'system|value',
          example: 'urn:example:mrn|LF-20417',
        },
        { name: 'If-Match', in: 'header', description: 'The version that is to be changed' },
        ...FORM,
      ],
      body: fhirBody(MAX_PATIENT_BYTES),
      responses: {
        200: fhirResponse('The Patient was registered before and is now as stated'),
        201: fhirResponse('The Patient is registered'),
        409: fhirResponse('An identifier leads to another patient'),
        412: fhirResponse('Several matches, or another version than If-Match names'),
        422: fhirResponse('The Patient breaks a rule of FHIR R4 or lacks what US Core demands'),
        ...REFUSALS,
      },
      audit: { action: 'register-patient', entity: 'Patient', by: 'act' },
      handler: fhirHandler((pairs, req, caller: Caller) => putPatient(site, pairs, req, caller)),
    },
  ];
}

const CONDITION: ParameterSpec = {
  name: 'If-None-Exist',
  in: 'header',
  description: 'identifier=system|value: what is kept under it already is not taken again',
};
const PREFER_RETURN: ParameterSpec = {
  name: 'Prefer',
  in: 'header',
  description: 'return=minimal, return=representation or return=OperationOutcome',
};

function deliveryRoutes(site: FhirSite, deliveries: DeliveryServices): Route[] {
  const refusals = {
    ...REFUSALS,
    409: fhirResponse('Something else is kept under the identifier of the condition'),
    412: fhirResponse('Several matches of a condition'),
  };
  return [
    {
      method: 'post',
      path: '/fhir/Observation',
      scopes: ['system/Observation.c'],
      summary: 'Sends an Observation in (create, also conditional)',
      description: deliveries.intake.describeElements(),
      parameters: [CONDITION, PREFER_RETURN, ...FORM],
      body: fhirBody(MAX_DELIVERY_BYTES),
      responses: {
        200: fhirResponse('It was kept before; Location names it'),
        201: fhirResponse('Kept and published; Location names it'),
        202: fhirResponse('Kept, held for review and not published: an OperationOutcome'),
        422: fhirResponse('Kept; it cannot be carried, is no vital sign, or the rules reject it'),
        ...refusals,
      },
      audit: { by: 'act-and-refusals' },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        createObservation(site, deliveries, req, caller),
      ),
    },
    {
      method: 'post',
      path: '/fhir',
      scopes: ['system/Observation.c', 'system/Patient.cu'],
      summary: 'A batch or transaction of what is sent in, or a batch of registrations',
      description:
        'Every entry is checked against the scopes of the token. In a transaction a fault of form, reference or condition fails the whole; a reading that the rules reject, or that is none, answers its entry with 202 and an OperationOutcome.',
      parameters: [PREFER_RETURN, ...FORM],
      body: fhirBody(MAX_BATCH_BYTES),
      audit: { action: 'fhir-batch', by: 'act' },
      responses: {
        200: fhirResponse('A Bundle of type batch-response or transaction-response'),
        422: fhirResponse('A transaction that cannot be taken; it is kept'),
        ...refusals,
      },
      handler: fhirHandler((_pairs, req, caller: Caller) =>
        postBundle(site, deliveries, req, caller),
      ),
    },
  ];
}

/** The FHIR side: what the downstream record reads, and where patients are registered. */
export function fhirArea(settings: FhirSettings): Area {
  const baseUrl = `${settings.publicUrl}/fhir`;
  const { pool, onRegistered } = settings;
  const site = { pool, onRegistered, baseUrl, siteMs: zoneClock(settings.siteZone).firstMomentAt };
  const elements = settings.deliveries.intake.describeElements();
  const statement = renderCapabilities(baseUrl, VERSION, elements);
  const capabilities = capabilitiesAnswer(statement);
  const metadata: Route = {
    method: 'get',
    path: '/fhir/metadata',
    scopes: 'public',
    summary: 'What this server can do',
    parameters: [...FORM, ...CONDITIONAL],
    responses: { 200: fhirResponse('A CapabilityStatement'), ...NOT_MODIFIED, ...REFUSALS },
    handler: fhirHandler(() => capabilities),
  };
  return {
    name: 'fhir',
    description: 'FHIR R4 (4.0.1): Observations and Patients, in and out',
    prefix: '/fhir',
    errorStyle: 'fhir',
    routes: [
      metadata,
      ...statisticsRoutes(site, settings.deliveries),
      ...observationRoutes(site),
      ...patientRoutes(site),
      ...provenanceRoutes(site),
      ...auditRoutes(site),
      ...directoryRoutes(site),
      ...definitionRoutes(site, renderDefinitions(statement, baseUrl)),
      ...registrationRoutes(site),
      ...deliveryRoutes(site, settings.deliveries),
      ...subscriptionRoutes({
        ...site,
        ...settings.subscriptions,
        intake: settings.deliveries.intake,
      }),
    ],
  };
}
