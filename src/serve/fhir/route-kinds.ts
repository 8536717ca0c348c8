/** How the routes of the FHIR side are described: parameters, answers, and the kinds of route. */
import type {
  AuditSpec,
  BodySpec,
  Caller,
  ParameterSpec,
  ResponseSpec,
  Route,
} from '../http/route.js';
import type { fhirHandler } from './fhir-handler.js';
import type { IncludeName } from './parse-search.js';
import type { SearchParameter } from './search-parameter.js';

const FHIR_JSON = 'application/fhir+json';
const RESOURCE = { type: 'object', required: ['resourceType'] };
const MAX_FORM_BYTES = 64 * 1024;

export function fhirResponse(description: string): ResponseSpec {
  return { description, content: { [FHIR_JSON]: { schema: RESOURCE } } };
}

export const REFUSALS: Readonly<Record<number, ResponseSpec>> = {
  400: fhirResponse('A parameter, header or body at fault, named by the OperationOutcome'),
  406: fhirResponse('Another format than FHIR JSON 4.0 is asked for'),
};
const NOT_FOUND = { 404: fhirResponse('No such resource or version') };
export const NOT_MODIFIED = { 304: { description: 'Nothing has changed since' } };

export const FORM: readonly ParameterSpec[] = [
  { name: '_format', in: 'query', description: 'json, application/json or application/fhir+json' },
  { name: '_pretty', in: 'query', description: 'true: with line breaks' },
];
export const PAGING: readonly ParameterSpec[] = [
  { name: '_count', in: 'query', description: 'Entries a page, at most 1000' },
  { name: '_page', in: 'query', description: 'From a next link' },
];
const SHAPING: readonly ParameterSpec[] = [
  { name: '_sort', in: 'query', description: 'What to sort by; with a minus: downwards' },
  { name: '_total', in: 'query', description: 'none, estimate or accurate' },
  {
    name: '_summary',
    in: 'query',
    description: 'count: the number of matches only; true, text or data: parts of the resources',
  },
  { name: '_elements', in: 'query', description: 'Elements to show, with commas between them' },
];
const SINCE: ParameterSpec = {
  name: '_since',
  in: 'query',
  example: '2026-03-01T08:00:00Z',
  description: 'An instant; versions from then on',
};
export const HANDLING: ParameterSpec = {
  name: 'Prefer',
  in: 'header',
  example: 'handling=strict',
  description: 'What to do with parameters that are not offered',
};
export const CONDITIONAL: readonly ParameterSpec[] = [
  { name: 'If-None-Match', in: 'header', description: 'Entity tags that the reader has' },
  { name: 'If-Modified-Since', in: 'header', description: 'When the reader last looked' },
];

/** What may come along with the matches, as parameters. */
function includeSpecs(offered: readonly IncludeName[]): ParameterSpec[] {
  return (['_include', '_revinclude'] as const).flatMap((by) => {
    const names = offered.filter((one) => one.by === by).map(({ name }) => name);
    if (names.length === 0) return [];
    const description = `What comes along with the matches: ${names.join(', ')}${by === '_include' ? '; * for all' : ''}`;
    return [{ name: by, in: 'query' as const, description, repeats: true }];
  });
}

export function asQuery({ name, documentation }: SearchParameter<unknown>): ParameterSpec {
  return { name, in: 'query', description: documentation, repeats: true };
}

function pathSpecs(path: string): ParameterSpec[] {
  return [
    ...(path.includes('/:id') ? [{ name: 'id', description: 'Logical id' }] : []),
    ...(path.includes('/:vid') ? [{ name: 'vid', description: 'Version id' }] : []),
  ].map((spec) => ({ ...spec, in: 'path' }));
}

/** Types that are served. */
type Served =
  | 'Observation'
  | 'Patient'
  | 'Device'
  | 'Encounter'
  | 'Practitioner'
  | 'Location'
  | 'Provenance'
  | 'AuditEvent'
  | 'SearchParameter'
  | 'OperationDefinition';
type FhirScopeOf<Letter extends string> = `system/${Served}.${Letter}`;
type Handler = ReturnType<typeof fhirHandler<[Caller]>>;

/** What the audit trail says: the interaction, and the resource or its type. */
export function auditOf(interaction: string, path: string): AuditSpec {
  const [, entity] = /^\/fhir\/(\w+(?:\/:id)?)/.exec(path) ?? [];
  const action = `fhir-${interaction}`;
  return entity === undefined ? { action } : { action, entity };
}

export function reading(
  path: string,
  scope: FhirScopeOf<'r'>,
  summary: string,
  handler: Handler,
): Route {
  return {
    method: 'get',
    path,
    scopes: [scope],
    narrowed: true,
    summary,
    parameters: [...pathSpecs(path), ...FORM, ...CONDITIONAL],
    responses: { 200: fhirResponse('The resource'), ...NOT_MODIFIED, ...NOT_FOUND, ...REFUSALS },
    audit: auditOf(path.includes('/:vid') ? 'vread' : 'read', path),
    handler,
  };
}

export function history(
  path: string,
  scope: FhirScopeOf<'r' | 's'>,
  summary: string,
  handler: Handler,
): Route {
  return {
    method: 'get',
    path,
    scopes: [scope],
    narrowed: true,
    summary,
    parameters: [...pathSpecs(path), SINCE, ...PAGING, ...FORM, HANDLING],
    responses: { 200: fhirResponse('A Bundle of type history'), ...NOT_FOUND, ...REFUSALS },
    audit: auditOf('history', path),
    handler,
  };
}

/** An operation of the type by GET, which takes search parameters beside its own. */
export function operation(
  path: string,
  scope: FhirScopeOf<'s'>,
  summary: string,
  own: readonly ParameterSpec[],
  parameters: readonly SearchParameter<unknown>[],
  handler: Handler,
): Route {
  return {
    method: 'get',
    path,
    scopes: [scope],
    summary,
    parameters: [...own, ...parameters.map(asQuery), ...FORM, HANDLING],
    responses: { 200: fhirResponse('What the operation returns'), ...REFUSALS },
    audit: auditOf('operation', path),
    handler,
  };
}

/** The body of a search by POST. */
export function formBody(): BodySpec {
  return {
    content: { 'application/x-www-form-urlencoded': { schema: { type: 'object' } } },
    maxBytes: MAX_FORM_BYTES,
    optional: true,
  };
}

/** A search by GET and by POST: the same parameters in the address or in a form. */
export function search(
  type: Served,
  parameters: readonly SearchParameter<unknown>[],
  handler: Handler,
  includes: readonly IncludeName[] = [],
): Route[] {
  const specs = [
    ...parameters.map(asQuery),
    ...includeSpecs(includes),
    ...SHAPING,
    ...PAGING,
    ...FORM,
    HANDLING,
  ];
  const facts = {
    scopes: [`system/${type}.s`] as const,
    narrowed: true as const,
    parameters: specs,
    responses: { 200: fhirResponse('A Bundle of type searchset'), ...REFUSALS },
    audit: auditOf('search', `/fhir/${type}`),
    handler,
  };
  return [
    { method: 'get', path: `/fhir/${type}`, summary: `Searches ${type}s`, ...facts },
    {
      method: 'post',
      path: `/fhir/${type}/_search`,
      body: formBody(),
      summary: `Searches ${type}s by a form`,
      ...facts,
    },
  ];
}

export function fhirBody(maxBytes: number): BodySpec {
  return {
    content: { [FHIR_JSON]: { schema: RESOURCE }, 'application/json': { schema: RESOURCE } },
    maxBytes,
  };
}
