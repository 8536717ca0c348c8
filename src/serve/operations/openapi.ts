import { STATUS_CODES } from 'node:http';
import { PUBLISHED_SCHEMAS } from '../../contract/compile.js';
import { problemResponse } from '../http/responses.js';
import type {
  Area,
  BodySpec,
  Content,
  ErrorStyle,
  ParameterSpec,
  ResponseSpec,
  Route,
  SchemaRef,
} from '../http/route.js';

import type {
  Answer,
  MediaType,
  MediaTypes,
  OpenApiDocument,
  Operation,
  Parameter,
  Paths,
  RequestBody,
  Schema,
} from './openapi-document.js';
import { securityOf, securitySchemes } from './openapi-security.js';
import type { Issuers } from './openapi-security.js';

interface DocumentFacts extends Issuers {
  readonly version: string;
}

/** Published schemas name each other by URN; in the document they are neighbours. */
function rewriteReference(reference: string, home: string): string {
  const [, name = home, path = ''] =
    /^(?:urn:vital-sign-gateway:schema:([a-z-]+):\d+)?(?:#(.*))?$/.exec(reference) ?? [];
  return `#/components/schemas/${name}${path}`;
}

/** A schema as a component: references rewritten, and the members left out that name a file of its own. */
function embed(value: unknown, home: string): unknown {
  if (Array.isArray(value)) return value.map((item) => embed(item, home));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .filter(([key]) => key !== '$id' && key !== '$schema')
      .map(([key, member]) => [
        key,
        key === '$ref' && typeof member === 'string'
          ? rewriteReference(member, home)
          : embed(member, home),
      ]),
  );
}

function schemaOf(schema: SchemaRef): Schema {
  return typeof schema === 'string'
    ? { $ref: `#/components/schemas/${schema}` }
    : (embed(schema, '') as Schema);
}

function examplesOf({ example, examples }: Content): Omit<MediaType, 'schema'> {
  if (examples === undefined) return example === undefined ? {} : { example };
  const named = Object.entries(examples).map(([name, value]) => [name, { value }]);
  return { examples: Object.fromEntries(named) as Record<string, { value: unknown }> };
}

function contentOf(content: Readonly<Record<string, Content>>): MediaTypes {
  return Object.fromEntries(
    Object.entries(content).map(([type, body]): [string, MediaType] => [
      type,
      { schema: schemaOf(body.schema), ...examplesOf(body) },
    ]),
  );
}

function parameterOf(parameter: ParameterSpec): Parameter {
  const schema = schemaOf(parameter.schema ?? { type: 'string' });
  return {
    name: parameter.name,
    in: parameter.in,
    description: parameter.description,
    required: parameter.in === 'path' || parameter.required === true,
    schema: parameter.repeats === true ? { type: 'array', items: schema } : schema,
    ...(parameter.example === undefined ? {} : { example: parameter.example }),
  };
}

function responseOf({ description, content, headers }: ResponseSpec): Answer {
  const described = Object.fromEntries(
    Object.entries(headers ?? {}).map(([name, text]) => [
      name,
      { description: text, schema: { type: 'string' } },
    ]),
  );
  return {
    description,
    ...(content === undefined ? {} : { content: contentOf(content) }),
    ...(Object.keys(described).length === 0 ? {} : { headers: described }),
  };
}

/** The errors that the machinery before the handler, or a failure of it, can answer. */
function impliedStatuses(route: Route): number[] {
  return [
    ...((route.parameters ?? []).length > 0 ? [400] : []),
    ...(route.scopes === 'public' ? [] : [401, 403]),
    ...(route.body === undefined ? [] : [400, 413, 415]),
    ...(route.rateClass === 'none' ? [] : [429]),
    500,
    503,
  ];
}

function errorResponse(status: number, style: ErrorStyle): ResponseSpec {
  const headers: Record<string, string> =
    status === 429 || status === 503
      ? { 'Retry-After': 'Seconds to wait.' }
      : status === 401 || status === 403
        ? { 'WWW-Authenticate': 'What is missing (RFC 6750).' }
        : {};
  const description = `${STATUS_CODES[status] ?? 'Error'}.`;
  if (style === 'problem') return { ...problemResponse(description), headers };
  const schema = {
    type: 'object',
    required: ['resourceType', 'issue'],
    properties: { resourceType: { const: 'OperationOutcome' }, issue: { type: 'array' } },
  };
  return { description, headers, content: { 'application/fhir+json': { schema } } };
}

function responsesOf(route: Route, style: ErrorStyle): Operation['responses'] {
  const all: Record<number, ResponseSpec> = {};
  for (const status of impliedStatuses(route)) all[status] = errorResponse(status, style);
  Object.assign(all, route.responses);
  return Object.fromEntries(
    Object.entries(all).map(([status, response]) => [status, responseOf(response)]),
  );
}

function bodyOf({ description, content, optional }: BodySpec): RequestBody {
  return {
    ...(description === undefined ? {} : { description }),
    required: optional !== true,
    content: contentOf(content),
  };
}

function operationOf(route: Route, area: Area, issuers: Issuers): Operation {
  const words = route.path.match(/[A-Za-z0-9]+/g) ?? [];
  return {
    operationId: [route.method, ...words].join('-'),
    tags: [area.name],
    summary: route.summary,
    ...(route.description === undefined ? {} : { description: route.description }),
    security: securityOf(route, issuers),
    ...(route.parameters === undefined ? {} : { parameters: route.parameters.map(parameterOf) }),
    ...(route.body === undefined ? {} : { requestBody: bodyOf(route.body) }),
    responses: responsesOf(route, area.errorStyle),
  };
}

function pathsOf(areas: readonly Area[], issuers: Issuers): Paths {
  const paths: Record<string, Record<string, Operation>> = {};
  for (const area of areas) {
    for (const route of area.routes) {
      const path = route.path.replace(/:(\w+)/g, '{$1}');
      paths[path] = { ...paths[path], [route.method]: operationOf(route, area, issuers) };
    }
  }
  return paths;
}

function publishedSchemas(): Readonly<Record<string, Schema>> {
  const schemas = Object.entries(PUBLISHED_SCHEMAS).map(([name, schema]): [string, Schema] => [
    name,
    embed(schema, name) as Schema,
  ]);
  return Object.fromEntries(schemas);
}

/** The OpenAPI 3.1 document of all areas, from the same lists that the routes are mounted from. */
export function buildDocument(
  allAreas: readonly Area[],
  { version, ...issuers }: DocumentFacts,
): OpenApiDocument {
  const areas = allAreas.filter(({ errorStyle }) => errorStyle !== 'page');
  return {
    openapi: '3.1.0',
    info: {
      title: 'Vital-sign gateway',
      version,
      description: 'Takes vital-sign sets, checks them, and hands on FHIR R4 Observations.',
      license: { name: 'Apache-2.0', identifier: 'Apache-2.0' },
    },
    servers: [{ url: issuers.publicUrl }],
    tags: areas.map(({ name, description }) => ({ name, description })),
    paths: pathsOf(areas, issuers),
    components: { schemas: publishedSchemas(), securitySchemes: securitySchemes(areas, issuers) },
  };
}
