import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { registerPatient } from '../../setup/example-sets.js';
import { openRegistryDesk } from './registry-desk.js';
import type { AdminBody, RegistryDesk } from './registry-desk.js';

interface Operation {
  readonly requestBody?: { readonly content: Record<string, { readonly example?: unknown }> };
  readonly responses: Record<string, { readonly content?: Record<string, unknown> }>;
}
type Paths = Record<string, Record<string, Operation>>;

/** All but the trial of a message, whose body is the message itself. */
const REGISTRY = /^\/admin\/(sources|devices|associations)(?!.*\/trial$)/;

let desk: RegistryDesk;
let paths: Paths;
let ajv: Ajv2020;

beforeAll(async () => {
  desk = await openRegistryDesk();
  const { body } = await desk.gateway.ask<{ paths: Paths }>('/openapi.json');
  ({ paths } = body);
  ajv = new Ajv2020({ strict: false, allErrors: true });
  addFormats.default(ajv);
  ajv.addSchema(body, 'document');
  // Whom the example names.
  await registerPatient(desk.gateway, 'LF-20417', '1958-11-02');
});
afterAll(() => desk.gateway.close());

function schemaPointer(path: string, method: string, status: number): string {
  const name = path.replaceAll('~', '~0').replaceAll('/', '~1');
  const steps = ['paths', name, method, 'responses', status, 'content', 'application~1json'];
  return `document#/${steps.join('/')}/schema`;
}

/** What a path is filled with: the ids that the examples before it made. */
function fill(path: string, made: Readonly<Record<string, unknown>>): string {
  const id = path.startsWith('/admin/sources') ? made.source : made.device;
  return path
    .replace('{id}', String(id))
    .replace('{mapping}', String(made.number))
    .replace('{association}', String(made.association));
}

describe('the examples of the registry in /openapi.json', () => {
  it('are there for every body, and are answered as the document says', async () => {
    const made: Record<string, unknown> = {};
    const done: string[] = [];
    for (const [path, methods] of Object.entries(paths)) {
      if (!REGISTRY.test(path)) continue;
      for (const [method, operation] of Object.entries(methods)) {
        const example = operation.requestBody?.content['application/json']?.example;
        expect([path, method, example === undefined]).toEqual([
          path,
          method,
          operation.requestBody === undefined,
        ]);
        const { status, body, text } = await desk.gateway.ask<AdminBody>(fill(path, made), {
          method: method.toUpperCase(),
          token: desk.token,
          ...(example === undefined ? {} : { body: example }),
        });
        expect([path, method, text, status < 300]).toEqual([path, method, text, true]);
        expect(Object.keys(operation.responses)).toContain(String(status));
        const validate = ajv.compile({ $ref: schemaPointer(path, method, status) });
        expect([path, method, validate(body), validate.errors]).toEqual([path, method, true, null]);
        for (const name of ['source', 'number', 'device', 'association'] as const) {
          if (typeof body[name] === 'string' || typeof body[name] === 'number') {
            made[name] ??= body[name];
          }
        }
        done.push(`${method} ${path}`);
      }
    }
    expect(done).toHaveLength(19);
  });
});
