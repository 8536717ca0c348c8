/** SMART App Launch 2.2, "FHIR Authorization Endpoint and Capabilities Discovery using a Well-Known URI". */
import { jsonResponse, sendJson } from '../http/responses.js';
import { scopesAskedBy } from '../http/route.js';
import type { Area, Route } from '../http/route.js';
import { ASSERTION_ALGORITHMS } from './client-keys-form.js';
import { parseFhirScope } from './fhir-scopes.js';
import { JWKS_PATH, TOKEN_PATH } from './paths.js';

const NARROWED_EXAMPLE =
  'system/Observation.rs?category=http://terminology.hl7.org/CodeSystem/observation-category|vital-signs';

/** The FHIR scopes that some route asks for, one for each type: what is listed is of use. */
function scopesAskedFor(areas: readonly Area[]): string[] {
  const letters = new Map<string, Set<string>>();
  for (const scope of scopesAskedBy(areas)) {
    const parts = parseFhirScope(scope);
    if (parts === null || parts.type === '*') continue;
    const known = letters.get(parts.type) ?? new Set();
    letters.set(parts.type, new Set([...known, ...Array.from(parts.letters)]));
  }
  const ordered = (some: ReadonlySet<string>): string =>
    Array.from('cruds')
      .filter((letter) => some.has(letter))
      .join('');
  return [...letters].map(([type, some]) => `system/${type}.${ordered(some)}`);
}

/** What a client needs to know before it asks for a token. All addresses are absolute. */
export function smartConfiguration(publicUrl: string, areas: readonly Area[]): object {
  return {
    token_endpoint: `${publicUrl}${TOKEN_PATH}`,
    jwks_uri: `${publicUrl}${JWKS_PATH}`,
    grant_types_supported: ['client_credentials'],
    token_endpoint_auth_methods_supported: ['private_key_jwt', 'client_secret_basic'],
    token_endpoint_auth_signing_alg_values_supported: ASSERTION_ALGORITHMS,
    scopes_supported: ['system/*.rs', ...scopesAskedFor(areas), NARROWED_EXAMPLE],
    capabilities: [
      'client-confidential-asymmetric',
      'client-confidential-symmetric',
      'permission-v1',
      'permission-v2',
    ],
    // Nobody signs in here with a code, but the document must name what such a sign-in would take.
    code_challenge_methods_supported: ['S256'],
  };
}

/** `application/json` whatever is asked for, as SMART has it. */
function configurationRoute(publicUrl: string, areas: () => readonly Area[]): Route {
  let document: object | undefined;
  const current = (): object => (document ??= smartConfiguration(publicUrl, areas()));
  return {
    method: 'get',
    path: '/fhir/.well-known/smart-configuration',
    scopes: 'public',
    summary: 'How a program gets access (SMART App Launch discovery)',
    responses: {
      200: jsonResponse('Where tokens are given, by which proofs, for which scopes.', {
        type: 'object',
        required: ['token_endpoint', 'grant_types_supported', 'capabilities'],
      }),
    },
    handler: (_req, res) => {
      res.setHeader('Cache-Control', 'public, max-age=60');
      sendJson(res, 200, current());
    },
  };
}

/** @param areas all areas, once they are joined */
export function smartArea(publicUrl: string, areas: () => readonly Area[]): Area {
  return {
    name: 'discovery',
    description: 'SMART Backend Services: how a program gets access to the FHIR side',
    prefix: '/fhir/.well-known',
    errorStyle: 'fhir',
    routes: [configurationRoute(publicUrl, areas)],
  };
}
