/** SMART App Launch 2.2, "FHIR Authorization Endpoint and Capabilities Discovery", and what it leads to. */
import { createLocalJWKSet, jwtVerify } from 'jose';
import type { JSONWebKeySet } from 'jose';
import { isAllowed, isKnownScope } from '../../../src/serve/auth/scopes.js';
import type { Area, GuardedRoute } from '../../../src/serve/http/route.js';
import { sendJson } from '../../../src/serve/http/responses.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { registerClient, signIn, startApp } from '../http/start-app.js';
import { addKeyedClient, ASSERTION_TYPE, makeKeyPair, signAssertion } from './keyed-client.js';

const PATH = '/fhir/.well-known/smart-configuration';
const NARROW = 'system/Observation.s?code=8867-4';

let gateway: TestGateway;
beforeAll(async () => {
  gateway = await openTestGateway();
});
afterAll(() => gateway.close());

interface Configuration {
  readonly token_endpoint: string;
  readonly jwks_uri: string;
  readonly scopes_supported: string[];
  readonly capabilities: string[];
}

describe('the configuration of a SMART server', () => {
  it('is JSON whatever is asked for, without a token', async () => {
    for (const accept of [undefined, 'application/json', 'application/fhir+json', 'text/html']) {
      const headers = accept === undefined ? {} : { accept };
      const { status, headers: told } = await gateway.ask(PATH, { headers });
      expect([accept, status, told.get('content-type')]).toEqual([accept, 200, 'application/json']);
    }
  });

  it('has every field that is required, and none that is to be left out', async () => {
    const { body } = await gateway.ask<Configuration>(PATH);
    expect(body).toMatchObject({
      token_endpoint: `${gateway.url}/auth/token`,
      grant_types_supported: ['client_credentials'],
      token_endpoint_auth_methods_supported: ['private_key_jwt', 'client_secret_basic'],
      token_endpoint_auth_signing_alg_values_supported: ['RS384', 'ES384'],
      code_challenge_methods_supported: ['S256'],
    });
    expect(body.capabilities).toEqual(
      expect.arrayContaining(['client-confidential-asymmetric', 'permission-v1', 'permission-v2']),
    );
    // "Required if the server's capabilities include sso-openid-connect; otherwise, omitted."
    expect(body).not.toHaveProperty('issuer');
  });

  it('names addresses that are absolute, from PUBLIC_URL and never from the Host header', async () => {
    const elsewhere = await openTestGateway({ PUBLIC_URL: 'https://vitals.example/site' });
    const { body } = await elsewhere.ask<Configuration>(PATH, {
      headers: { 'X-Forwarded-Host': 'evil.example' },
    });
    expect(body.token_endpoint).toBe('https://vitals.example/site/auth/token');
    expect(body.jwks_uri).toBe('https://vitals.example/site/auth/jwks');
    await elsewhere.close();
  });

  // "The server SHALL support all scopes listed here".
  it('lists scopes that a client can be given', async () => {
    const { body } = await gateway.ask<Configuration>(PATH);
    expect(body.scopes_supported).toContain('system/*.rs');
    for (const type of ['Observation', 'Patient']) {
      const named = body.scopes_supported.filter((scope) => scope.startsWith(`system/${type}.`));
      expect(isAllowed(named, `system/${type}.rs`)).toBe(true);
    }
    for (const scope of body.scopes_supported)
      expect([scope, isKnownScope(scope)]).toEqual([scope, true]);
    const key = await makeKeyPair('ES384');
    // No wildcard covers the last two.
    const held = ['system/*.cruds', 'system/AuditEvent.rs', 'system/Subscription.cruds'];
    const id = await addKeyedClient(gateway.database, held, { jwks: { keys: [key.jwk] } });
    for (const scope of body.scopes_supported) {
      const answer = await fetch(body.token_endpoint, {
        method: 'POST',
        body: new URLSearchParams({
          ...{ grant_type: 'client_credentials', client_assertion_type: ASSERTION_TYPE, scope },
          client_assertion: await signAssertion(key, id, gateway.url),
        }),
      });
      expect([scope, answer.status]).toEqual([scope, 200]);
    }
  });

  it('leads to a token, and to the keys that verify it', async () => {
    const { body } = await gateway.ask<Configuration>(PATH);
    const token = await gateway.token('system/Observation.rs');
    const keys = (await (await fetch(body.jwks_uri)).json()) as JSONWebKeySet;
    const { payload } = await jwtVerify(token, createLocalJWKSet(keys));
    expect(payload.scope).toBe('system/Observation.rs');
  });
});

describe('a route that says nothing of narrowed scopes', () => {
  const route = (path: string, narrowed?: true): GuardedRoute => ({
    method: 'get',
    path,
    summary: 'x',
    responses: {},
    scopes: ['system/Observation.s'],
    ...(narrowed === undefined ? {} : { narrowed }),
    handler: (_req, res) => {
      sendJson(res, 200, {});
    },
  });

  it('is closed to them', async () => {
    const routes = [route('/fhir/all'), route('/fhir/some', true)];
    const area: Area = { name: 'x', description: 'x', prefix: '/fhir', errorStyle: 'fhir', routes };
    const app = await startApp(gateway.database, { areas: [area] });
    const ask = async (path: string, scope: string): Promise<number> => {
      const headers = await signIn(app.url, await registerClient(gateway.database, [scope]));
      return (await fetch(`${app.url}/fhir/${path}`, { headers })).status;
    };
    expect(await ask('all', NARROW)).toBe(403);
    expect(await ask('some', NARROW)).toBe(200);
    expect(await ask('all', 'system/Observation.s')).toBe(200);
    await app.stop();
  });
});
