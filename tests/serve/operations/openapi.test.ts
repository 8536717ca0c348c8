import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';

interface Operation {
  operationId: string;
  security: Record<string, string[]>[];
  parameters?: { name: string; in: string; required: boolean }[];
  requestBody?: { content: Record<string, { schema: object; example?: unknown }> };
  responses: Record<string, { description: string; content?: Record<string, object> }>;
}
interface Document {
  openapi: string;
  paths: Record<string, Record<string, Operation>>;
  components: { schemas: Record<string, object>; securitySchemes: Record<string, object> };
}

let gateway: TestGateway;
let document: Document;

beforeAll(async () => {
  gateway = await openTestGateway();
  document = (await (await fetch(`${gateway.url}/openapi.json`)).json()) as Document;
});

afterAll(() => gateway.close());

function operations(): [string, string, Operation][] {
  return Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, operation]): [string, string, Operation] => [
      method,
      path,
      operation,
    ]),
  );
}

function references(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, member]) =>
    key === '$ref' ? [String(member)] : references(member),
  );
}

describe('/openapi.json', () => {
  it('is OpenAPI 3.1 with the routes of all areas', () => {
    expect(document.openapi).toMatch(/^3\.1\.\d+$/);
    const paths = Object.keys(document.paths);
    expect(paths).toEqual(
      expect.arrayContaining(['/sets', '/sets/{setId}', '/auth/token', '/fhir/Observation/{id}']),
    );
  });

  it('refers to nothing that is not in it', () => {
    const all = references(document);
    expect(all.length).toBeGreaterThan(10);
    for (const reference of all) {
      const steps = reference.replace(/^#\//, '').split('/');
      const target = steps.reduce<unknown>(
        (value, step) => (value as Record<string, unknown> | undefined)?.[step],
        document,
      );
      expect([reference, typeof target]).toEqual([reference, 'object']);
    }
  });

  it('names each path parameter, and each operation once', () => {
    for (const [, path, { parameters = [] }] of operations()) {
      const named = [...path.matchAll(/\{(\w+)\}/g)].map(([, name]) => name);
      const described = parameters.filter((parameter) => parameter.in === 'path');
      expect([path, described.map(({ name }) => name)]).toEqual([path, named]);
      expect(described.every(({ required }) => required)).toBe(true);
    }
    const ids = operations().map(([, , { operationId }]) => operationId);
    expect(new Set(ids).size).toBe(ids.length);
  });

  it('says of each operation who may call it, and how that fails', async () => {
    for (const [method, path, { security, responses }] of operations()) {
      const url = `${gateway.url}${path.replaceAll(/\{\w+\}/g, '1')}`;
      const { status } = await fetch(url, { method: method.toUpperCase() });
      // What the document says is what the mounted route does.
      expect([path, status === 401 && !path.startsWith('/auth')]).toEqual([
        path,
        security.length > 0,
      ]);
      expect([path, Object.keys(responses)]).toEqual([
        path,
        expect.arrayContaining([String(status), '500', '503']),
      ]);
      if (security.length > 0) expect(Object.keys(responses)).toContain('403');
    }
  });

  it('describes the errors of a FHIR area as OperationOutcomes', () => {
    const responses = document.paths['/fhir/Observation/{id}']?.get?.responses ?? {};
    expect(Object.keys(responses['401']?.content ?? {})).toEqual(['application/fhir+json']);
    expect(Object.keys(responses['429']?.content ?? {})).toEqual(['application/fhir+json']);
  });

  it('has an example of a set that its own schema takes', () => {
    const ajv = new Ajv2020({ strict: false });
    addFormats.default(ajv);
    ajv.addSchema(document, 'document');
    const content = document.paths['/sets']?.post?.requestBody?.content['application/json'];
    const validate = ajv.compile({
      $ref: 'document#/components/schemas/vital-sign-set',
    });
    expect([validate(content?.example), validate.errors]).toEqual([true, null]);
    expect(validate({})).toBe(false);
  });
});
