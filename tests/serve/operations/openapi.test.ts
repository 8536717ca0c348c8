import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { addClient } from '../../../src/store/clients.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';

interface Media {
  schema: object;
  example?: unknown;
  examples?: Record<string, { value: unknown }>;
}
interface Operation {
  operationId: string;
  security: Record<string, string[]>[];
  parameters?: { name: string; in: string; required: boolean }[];
  requestBody?: { content: Record<string, Media> };
  responses: Record<string, { description: string; content?: Record<string, Media> }>;
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

  it('has only examples that their own schemas take', () => {
    const ajv = new Ajv2020({ strict: false });
    addFormats.default(ajv);
    ajv.addSchema(document, 'document');
    const within = (path: readonly string[]): string =>
      `document#/${path.map((step) => encodeURIComponent(step.replaceAll('~', '~0').replaceAll('/', '~1'))).join('/')}`;
    let checked = 0;
    const check = (media: Media, path: readonly string[]): void => {
      const examples = [
        ...(media.example === undefined ? [] : [media.example]),
        ...Object.values(media.examples ?? {}).map(({ value }) => value),
      ];
      for (const example of examples) {
        const validate = ajv.compile({ $ref: within([...path, 'schema']) });
        expect([path, validate(example), validate.errors]).toEqual([path, true, null]);
        checked += 1;
      }
    };
    for (const [method, path, { requestBody, responses }] of operations()) {
      const place = ['paths', path, method];
      for (const [type, media] of Object.entries(requestBody?.content ?? {})) {
        check(media, [...place, 'requestBody', 'content', type]);
      }
      for (const [status, { content = {} }] of Object.entries(responses)) {
        for (const [type, media] of Object.entries(content)) {
          check(media, [...place, 'responses', status, 'content', type]);
        }
      }
    }
    expect(checked).toBeGreaterThan(8);
    expect(ajv.compile({ $ref: 'document#/components/schemas/vital-sign-set' })({})).toBe(false);
  });

  it('shows of the token endpoint what it answers', async () => {
    const responses = document.paths['/auth/token']?.post?.responses ?? {};
    const shapeOf = (status: string): string[] =>
      Object.keys(responses[status]?.content?.['application/json']?.example as object);
    const client = await addClient(gateway.database.pool, {
      ...{ name: 'x', scopes: ['sets.write'], source: { name: 'x', attended: true } },
    });
    const ask = async (form: Record<string, string>): Promise<[string, object]> => {
      const secret = `${client?.clientId ?? ''}:${client?.clientSecret ?? ''}`;
      const answer = await fetch(`${gateway.url}/auth/token`, {
        method: 'POST',
        headers: { authorization: `Basic ${Buffer.from(secret).toString('base64')}` },
        body: new URLSearchParams(form),
      });
      return [String(answer.status), (await answer.json()) as object];
    };
    for (const form of [{ grant_type: 'client_credentials' }, { grant_type: 'password' }]) {
      const [status, body] = await ask(form);
      expect([status, Object.keys(body)]).toEqual([status, shapeOf(status)]);
    }
  });

  it('names the issuer of the site beside our own, where its tokens are taken', async () => {
    const AUTH_ISSUER = 'https://login.larkfield.example/realms/ward/';
    const other = await openTestGateway({ AUTH_ISSUER });
    const { body } = await other.ask<Document>('/openapi.json');
    expect(body.components.securitySchemes.siteIssuer).toMatchObject({
      type: 'openIdConnect',
      openIdConnectUrl: `${AUTH_ISSUER}.well-known/openid-configuration`,
    });
    const { security } = body.paths['/metrics']?.get ?? {};
    expect(security).toEqual([{ oauth: ['metrics.read'] }, { siteIssuer: ['metrics.read'] }]);
    await other.close();
    expect(document.components.securitySchemes).not.toHaveProperty('siteIssuer');
  });
});
