import { connect } from 'node:net';
import type { Request, Response } from 'express';
import { HttpError } from '../../../src/serve/http/http-error.js';
import type { Area } from '../../../src/serve/http/route.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { registerClient, reply, signIn, startApp } from './start-app.js';
import type { RunningApp } from './start-app.js';

const SET = '0190a2c4-0000-4000-8000-000000000003';
const UUID = /^[0-9a-f-]{36}$/;

/** Routes that fail on purpose, in the FHIR style and without a token. */
const FAILING: Area = {
  name: 'failing',
  description: 'Routes that fail',
  prefix: '/fhir',
  errorStyle: 'fhir',
  routes: [
    {
      method: 'get',
      path: '/fhir/bug/:id',
      scopes: 'public',
      summary: 'Fails',
      responses: {},
      handler: () => {
        throw new Error('no patient "Ada Larkin" here');
      },
    },
    {
      method: 'get',
      path: '/fhir/Observation',
      scopes: ['system/Observation.s'],
      summary: 'Needs a scope',
      responses: {},
      handler: (_req: Request, res: Response) => {
        res.end('{}');
      },
    },
    {
      method: 'post',
      path: '/fhir/Observation',
      scopes: 'public',
      summary: 'Finds two faults',
      body: { content: { 'application/fhir+json': { schema: {} } }, maxBytes: 10 },
      responses: {},
      handler: () => {
        throw new HttpError({
          status: 422,
          detail: 'Two faults.',
          issues: [
            { severity: 'error', code: 'required', text: 'one', expression: 'Observation.code' },
            { severity: 'error', code: 'value', text: 'two' },
          ],
        });
      },
    },
  ],
};

let database: TestDatabase;
let app: RunningApp;
let headers: Record<string, string>;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database, {
    areas: [FAILING],
    pipeline: { findSet: () => Promise.resolve(reply(200, {})) },
  });
  headers = await signIn(app.url, await registerClient(database, ['sets.write']));
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

describe('paths that no route takes', () => {
  it('are 404 in the style of their area', async () => {
    const plain = await fetch(`${app.url}/nothing`);
    expect(plain.status).toBe(404);
    expect(plain.headers.get('content-type')).toBe('application/problem+json');
    expect(await plain.json()).toEqual({
      type: 'about:blank',
      title: 'Not Found',
      status: 404,
      detail: 'There is no such path.',
    });
    const fhir = await fetch(`${app.url}/fhir/Nothing`);
    expect(fhir.status).toBe(404);
    expect(fhir.headers.get('content-type')).toContain('application/fhir+json');
    expect(await fhir.json()).toMatchObject({
      resourceType: 'OperationOutcome',
      issue: [{ severity: 'error', code: 'not-supported' }],
    });
    // `/fhirx` is not under `/fhir`.
    expect((await (await fetch(`${app.url}/fhirx`)).json()) as object).toHaveProperty('title');
  });

  it.each([
    ['DELETE', '/sets', 'POST, GET, HEAD'],
    ['PUT', `/sets/${SET}`, 'GET, HEAD'],
    ['PATCH', '/sets/check', 'POST, GET, HEAD'],
    ['POST', '/health/live', 'GET, HEAD'],
    ['OPTIONS', '/auth/token', 'POST'],
  ])('are 405 with Allow when they take another method: %s %s', async (method, path, allow) => {
    const response = await fetch(`${app.url}${path}`, { method });
    expect(response.status).toBe(405);
    expect(response.headers.get('allow')).toBe(allow);
  });

  it('are 400 when they are not percent-encoded UTF-8', async () => {
    for (const path of ['/sets/%', '/sets/%ff', '/fhir/%zz']) {
      expect((await fetch(`${app.url}${path}`)).status).toBe(400);
    }
  });
});

describe('errors', () => {
  it('of ours are 500 with no detail, and logged under the request id without what was quoted', async () => {
    const response = await fetch(`${app.url}/fhir/bug/MRN-1?name=Larkin`, {
      headers: { 'x-request-id': 'trace-7' },
    });
    expect(response.status).toBe(500);
    expect(response.headers.get('x-request-id')).toBe('trace-7');
    const text = await response.text();
    expect(JSON.parse(text)).toMatchObject({ issue: [{ code: 'exception' }] });
    expect(text).not.toContain('patient');
    const line =
      app
        .log()
        .split('\n')
        .find((one) => one.includes('trace-7')) ?? '';
    expect(JSON.parse(line)).toMatchObject({
      level: 50,
      requestId: 'trace-7',
      route: '/fhir/bug/:id',
      status: 500,
      error: { type: 'Error', message: 'no patient "…" here' },
    });
    expect(app.log()).not.toMatch(/Larkin|MRN-1/);
  });

  it('of a FHIR area may carry several issues', async () => {
    const response = await fetch(`${app.url}/fhir/Observation`, {
      method: 'POST',
      headers: { 'content-type': 'application/fhir+json' },
      body: '{}',
    });
    expect(response.status).toBe(422);
    expect(await response.json()).toEqual({
      resourceType: 'OperationOutcome',
      issue: [
        {
          severity: 'error',
          code: 'required',
          details: { text: 'one' },
          expression: ['Observation.code'],
        },
        { severity: 'error', code: 'value', details: { text: 'two' } },
      ],
    });
  });

  it('before a FHIR handler are OperationOutcomes too', async () => {
    const large = await fetch(`${app.url}/fhir/Observation`, {
      method: 'POST',
      headers: { 'content-type': 'application/fhir+json' },
      body: 'x'.repeat(11),
    });
    expect(large.status).toBe(413);
    expect(await large.json()).toMatchObject({ issue: [{ code: 'too-long' }] });
    const nobody = await fetch(`${app.url}/fhir/Observation`);
    expect(nobody.status).toBe(401);
    expect(await nobody.json()).toMatchObject({ issue: [{ code: 'login' }] });
    const small = await fetch(`${app.url}/fhir/Observation`, { headers });
    expect(small.status).toBe(403);
    expect(await small.json()).toMatchObject({ issue: [{ code: 'forbidden' }] });
  });
});

describe('every answer', () => {
  it('has a request id: a sane one that was sent, else a new one', async () => {
    const sent = async (id: string): Promise<string | null> => {
      const response = await fetch(`${app.url}/health/live`, { headers: { 'x-request-id': id } });
      return response.headers.get('x-request-id');
    };
    expect(await sent('a.B-7_x')).toBe('a.B-7_x');
    for (const id of ['a b', '"', 'x'.repeat(65), '']) expect(await sent(id)).toMatch(UUID);
  });

  it('has security headers, and does not tell what serves it', async () => {
    const { headers: got } = await fetch(`${app.url}/health/live`);
    expect(got.get('x-content-type-options')).toBe('nosniff');
    expect(got.get('content-security-policy')).toContain("default-src 'self'");
    expect(got.has('x-powered-by')).toBe(false);
  });

  it('leaves no address, query, header or body in the log', async () => {
    const { authorization = '' } = headers;
    await fetch(`${app.url}/sets/${SET}?name=Larkin`, { headers });
    await fetch(`${app.url}/unknown/Larkin`, { headers });
    const text = app.log();
    expect(text).toContain('GET /sets/:setId 200');
    expect(text).toContain('GET none 404');
    for (const secret of ['Larkin', authorization.slice(7, 40), SET]) {
      expect(text).not.toContain(secret);
    }
    expect(text).not.toContain('/health/live');
  });
});

describe('too many requests', () => {
  it('are 429 with Retry-After, for this client alone', async () => {
    const limited = await startApp(database, {
      rateLimitPerMinute: 20,
      pipeline: {
        findSet: () => Promise.resolve(reply(200, {})),
        checkSet: () => Promise.resolve(reply(200, {})),
      },
    });
    const busy = await signIn(
      limited.url,
      await registerClient(database, ['sets.write', 'sets.check']),
    );
    const calm = await signIn(limited.url, await registerClient(database, ['sets.write']));
    const read = async (as: Record<string, string>): Promise<globalThis.Response> =>
      fetch(`${limited.url}/sets/${SET}`, { headers: as });
    for (let i = 0; i < 20; i += 1) expect((await read(busy)).status).toBe(200);
    const refused = await read(busy);
    expect(refused.status).toBe(429);
    expect(Number(refused.headers.get('retry-after'))).toBeGreaterThan(0);
    expect(refused.headers.get('content-type')).toBe('application/problem+json');
    expect((await read(calm)).status).toBe(200);
    const check = async (): Promise<number> =>
      (
        await fetch(`${limited.url}/sets/check`, {
          method: 'POST',
          headers: { ...busy, 'content-type': 'application/json' },
          body: '{}',
        })
      ).status;
    // A counter of its own, and a smaller one.
    expect([await check(), await check(), await check()]).toEqual([200, 200, 429]);
    await limited.stop();
  });
});

describe('a hostile connection', () => {
  it.each([
    ['garbage', '\x16\x03\x01 nonsense\r\n\r\n'],
    [
      'two lengths',
      'POST /sets HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n',
    ],
    ['a header without end', `GET / HTTP/1.1\r\nHost: x\r\nA: ${'x'.repeat(20_000)}`],
    [
      'a body cut short',
      'POST /auth/token HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 100\r\n\r\nabc',
    ],
  ])('leaves the process untouched: %s', async (_name, bytes) => {
    const socket = connect(Number(new URL(app.url).port), '127.0.0.1');
    socket.on('error', () => undefined);
    const closed = new Promise((resolve) => socket.once('close', resolve));
    socket.end(bytes);
    socket.resume();
    await closed;
    expect((await fetch(`${app.url}/health/live`)).status).toBe(200);
  });
});
