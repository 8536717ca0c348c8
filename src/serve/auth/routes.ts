import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Area, ResponseSpec, Route } from '../http/route.js';
import { issueToken } from './issue-token.js';
import type { TokenIssuer } from './issue-token.js';

const TOKEN_ERROR = {
  type: 'object',
  required: ['error'],
  properties: { error: { type: 'string' }, error_description: { type: 'string' } },
};

const TOKEN = {
  type: 'object',
  required: ['access_token', 'token_type', 'expires_in', 'scope'],
  properties: {
    access_token: { type: 'string' },
    token_type: { const: 'Bearer' },
    expires_in: { type: 'integer', description: 'Seconds.' },
    scope: { type: 'string', description: 'What was granted, separated by spaces.' },
  },
};

const TOKEN_FORM = {
  type: 'object',
  required: ['grant_type'],
  properties: {
    grant_type: { const: 'client_credentials' },
    scope: { type: 'string', description: 'Fewer scopes than the client holds; all when absent.' },
  },
};

function noStore(response: ResponseSpec): ResponseSpec {
  return { ...response, headers: { 'Cache-Control': '`no-store`' } };
}

function token(issuer: TokenIssuer): Route {
  return {
    method: 'post',
    path: '/auth/token',
    scopes: 'public',
    rateClass: 'token',
    summary: 'Get an access token',
    description:
      'OAuth 2.0 client credentials grant (RFC 6749 §4.4). Client id and secret go into the Authorization header (`client_secret_basic`).',
    body: {
      content: { 'application/x-www-form-urlencoded': { schema: TOKEN_FORM } },
      maxBytes: 8 * 1024,
    },
    responses: {
      200: noStore(jsonResponse('A token of five minutes.', TOKEN)),
      400: noStore(jsonResponse('The request or the scope is not acceptable.', TOKEN_ERROR)),
      401: noStore(jsonResponse('Client id and secret are not accepted.', TOKEN_ERROR)),
      429: problemResponse('Too many requests, or too many failures.'),
    },
    handler: (req, res) => issueToken(issuer, req, res),
  };
}

function jwks(issuer: TokenIssuer): Route {
  return {
    method: 'get',
    path: '/auth/jwks',
    scopes: 'public',
    summary: 'The public keys that verify access tokens (RFC 7517)',
    responses: { 200: jsonResponse('A JSON Web Key Set.', { type: 'object' }) },
    async handler(_req, res) {
      res.setHeader('Cache-Control', 'public, max-age=60');
      sendJson(res, 200, await issuer.keys.publicKeys());
    },
  };
}

/** Where programs get their tokens. */
export function authArea(issuer: TokenIssuer): Area {
  return {
    name: 'auth',
    description: 'Access tokens',
    prefix: '/auth',
    errorStyle: 'problem',
    routes: [token(issuer), jwks(issuer)],
  };
}
