/** A bearer token for the scripts of somebody signed in: what `/sets` and `/fhir` take. */
import { randomUUID } from 'node:crypto';
import { PERSON_CLAIM } from '../auth/identify.js';
import { ACCESS_TOKEN_TYPE } from '../auth/key-ring.js';
import { sendJson } from '../http/responses.js';
import type { Route, SignedIn } from '../http/route.js';
import type { SignInServices } from './services.js';

async function makeToken(services: SignInServices, caller: SignedIn): Promise<object> {
  const { keys, publicUrl, tokenMinutes } = services;
  const { person, scopes, clientId, session } = caller;
  const nowSeconds = Math.floor(Date.now() / 1000);
  const endsSeconds = Math.floor(session.endsAtMs / 1000);
  const exp = Math.min(nowSeconds + tokenMinutes * 60, endsSeconds);
  const scope = scopes.join(' ');
  const claims = {
    ...{ iss: publicUrl, aud: publicUrl, sub: clientId, scope },
    ...{ iat: nowSeconds, exp, jti: randomUUID() },
    [PERSON_CLAIM]: person,
  };
  const token = await keys.sign(claims, ACCESS_TOKEN_TYPE);
  const told = { ...person, name: session.name };
  return {
    ...{ access_token: token, token_type: 'Bearer', expires_in: exp - nowSeconds, scope },
    person: told,
  };
}

/** It ends within minutes; the next one is given as long as the session lasts. */
export function personTokenRoute(services: SignInServices): Route {
  return {
    method: 'post',
    path: '/signin/token',
    by: 'session',
    scopes: [],
    rateClass: 'token',
    audit: { action: 'person-token' },
    summary: 'Get an access token as the person signed in',
    async handler(_req, res, caller) {
      sendJson(res, 200, await makeToken(services, caller));
    },
  };
}
