import type { ParameterSpec, Route } from '../http/route.js';
import type { DeliveryServices } from './delivery-services.js';
import { fhirHandler } from './fhir-handler.js';
import { observationStatistics, pairsOfParameters } from './observation-statistics.js';
import { readBody } from './read-fhir-body.js';
import { FORM, REFUSALS, auditOf, fhirBody, fhirResponse } from './route-kinds.js';
import type { FhirSite } from './site.js';
import { STATISTIC_CODES } from './statistics.js';

const MAX_PARAMETERS_BYTES = 64 * 1024;

const STATISTICS_PARAMETERS: readonly ParameterSpec[] = (
  [
    ['subject', 'Patient/id'],
    ['code', 'A code of what is measured; of a pressure panel: each of its parts'],
    ['system', 'The system of the codes'],
    ['coding', 'system|code'],
    ['duration', 'Hours before now'],
    ['period', 'start/end, instead of a duration'],
    ['statistic', `${STATISTIC_CODES.join(', ')}, max or min`],
    ['include', 'true: with the Observations that were reckoned with'],
    ['limit', 'How many of these at most'],
  ] as const
).map(([name, description]) => ({ name, in: 'query', description, repeats: true }));

/** The operation stats: by an address, or by a Parameters resource. */
export function statisticsRoutes(site: FhirSite, { intake }: DeliveryServices): Route[] {
  const facts = {
    path: '/fhir/Observation/$stats',
    scopes: ['system/Observation.s'] as const,
    responses: { 200: fhirResponse('A Parameters resource'), ...REFUSALS },
    audit: auditOf('operation', '/fhir/Observation/$stats'),
  };
  return [
    {
      method: 'get',
      ...facts,
      summary: 'Statistics of the values of one patient (operation stats)',
      parameters: [...STATISTICS_PARAMETERS, ...FORM],
      handler: fhirHandler((pairs) => observationStatistics(site, pairs)),
    },
    {
      method: 'post',
      ...facts,
      summary: 'Statistics, asked for by a Parameters resource',
      parameters: [...FORM],
      body: fhirBody(MAX_PARAMETERS_BYTES),
      handler: fhirHandler((_, req) =>
        observationStatistics(site, pairsOfParameters(readBody(intake, req).value)),
      ),
    },
  ];
}
