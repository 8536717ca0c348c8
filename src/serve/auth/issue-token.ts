import { randomUUID, timingSafeEqual } from 'node:crypto';
import type { Request, Response } from 'express';
import { hashSecret } from '../../store/clients.js';
import type { ClientRecord } from '../../store/clients.js';
import { noteActor } from '../http/audit-requests.js';
import { localsOf } from '../http/locals.js';
import { addressOf } from '../http/rate-limits.js';
import { bodyOf } from '../http/read-body.js';
import { sendJson } from '../http/responses.js';
import { isUuid } from '../http/route.js';
import { ASSERTION_TYPE, authenticateByAssertion, statedClient } from './client-assertion.js';
import type { AssertionChecker } from './client-assertion.js';
import type { FailureLimit } from './failure-limit.js';
import { isActive } from './identify.js';
import { ACCESS_TOKEN_TYPE } from './key-ring.js';
import type { KeyRing } from './key-ring.js';
import { isAllowed } from './scopes.js';
import { invalidRequest, TokenError } from './token-error.js';

/** `findClient` gives the present state, not a remembered one: a secret just rotated must work at once. */
export interface TokenIssuer extends AssertionChecker {
  readonly keys: KeyRing;
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  readonly failures: FailureLimit;
  /** Told why a client was refused, where it is not told so itself. */
  readonly onRefused: (facts: NonNullable<TokenError['logged']>) => void;
}

interface BasicCredentials {
  readonly clientId: string;
  readonly secret: string;
}

/** RFC 6749 §2.3.1: both parts are form-encoded before they are joined and put into base64. */
function formDecode(text: string): string {
  return decodeURIComponent(text.replaceAll('+', ' '));
}

function readBasic(authorization: string | undefined): BasicCredentials | null {
  const [, encoded] = /^Basic ([A-Za-z0-9+/=]+)$/i.exec(authorization ?? '') ?? [];
  const [, id, secret] =
    /^([^:]*):(.*)$/s.exec(Buffer.from(encoded ?? '', 'base64').toString()) ?? [];
  if (id === undefined || secret === undefined) return null;
  try {
    return { clientId: formDecode(id), secret: formDecode(secret) };
  } catch {
    return null;
  }
}

function secretMatches({ secretSha256 }: ClientRecord, secret: string): boolean {
  return secretSha256 !== null && timingSafeEqual(secretSha256, hashSecret(secret));
}

/** Every failure sounds the same, so that ids cannot be probed. */
async function authenticateBySecret(
  { findClient }: TokenIssuer,
  basic: BasicCredentials | null,
): Promise<ClientRecord> {
  const client = basic !== null && isUuid(basic.clientId) ? await findClient(basic.clientId) : null;
  const isProven = client !== null && basic !== null && secretMatches(client, basic.secret);
  if (isProven && isActive(client, Date.now())) return client;
  const description = 'Client id and secret are not accepted.';
  const clientKey = client?.clientKey;
  throw new TokenError({ code: 'invalid_client', description, clientKey, challenged: true });
}

/** The assertion of the form, if the client proves itself by one; RFC 7521 §4.2. */
function readAssertion(req: Request, form: URLSearchParams): string | null {
  const type = form.get('client_assertion_type');
  const assertion = form.get('client_assertion');
  if (type === null && assertion === null) return null;
  if (type !== ASSERTION_TYPE) {
    throw invalidRequest(`client_assertion_type must be ${ASSERTION_TYPE}.`);
  }
  if (assertion === null || assertion === '') throw invalidRequest('client_assertion is missing.');
  if (req.headers.authorization !== undefined) {
    throw invalidRequest('A client proves itself in one way: by assertion or by secret.');
  }
  const clientId = form.get('client_id');
  if (clientId !== null && clientId !== statedClient(assertion)) {
    throw invalidRequest('client_id must be the iss of the assertion; it may be left out.');
  }
  return assertion;
}

/** The client that proves itself, by its secret or by an assertion that its key has signed. */
async function authenticate(
  issuer: TokenIssuer,
  req: Request,
  form: URLSearchParams,
): Promise<ClientRecord> {
  const assertion = readAssertion(req, form);
  const basic = readBasic(req.headers.authorization);
  const named = assertion === null ? (basic?.clientId ?? '') : statedClient(assertion);
  const key = `${addressOf(req)} ${named.slice(0, 64)}`;
  await issuer.failures.check(key);
  try {
    return assertion === null
      ? await authenticateBySecret(issuer, basic)
      : await authenticateByAssertion(issuer, assertion);
  } catch (error) {
    if (error instanceof TokenError) await issuer.failures.count(key);
    throw error;
  }
}

/** RFC 6749 §3.2: no parameter may stand twice. */
function readForm(req: Request): URLSearchParams {
  const form = new URLSearchParams(bodyOf(req).toString('utf8'));
  const names = [...form.keys()];
  if (new Set(names).size !== names.length) {
    throw invalidRequest('A parameter stands more than once.');
  }
  return form;
}

function checkGrant(form: URLSearchParams): void {
  const grant = form.get('grant_type');
  if (grant === null) throw invalidRequest('grant_type is missing.');
  if (grant !== 'client_credentials') {
    const description = 'The one grant here is client_credentials.';
    throw new TokenError({ code: 'unsupported_grant_type', description });
  }
}

/** What is asked for, as it was written, if the client holds all of it; all that it holds when nothing is. */
function grantScopes(client: ClientRecord, asked: string | null): readonly string[] {
  const scopes = (asked ?? '').split(' ').filter((scope) => scope !== '');
  if (scopes.length === 0) return client.scopes;
  const tooMuch = scopes.filter((scope) => !isAllowed(client.scopes, scope));
  if (tooMuch.length > 0) {
    // RFC 6749 §5.2: a description has no quotes and no backslashes, and no scope has either.
    const named = tooMuch.map((scope) => scope.replace(/[^\x21\x23-\x5b\x5d-\x7e]/g, '?'));
    const description = `The client does not hold, or nobody knows, ${named.join(' ').slice(0, 300)}.`;
    throw new TokenError({ code: 'invalid_scope', description });
  }
  return [...new Set(scopes)];
}

async function issue(issuer: TokenIssuer, req: Request, res: Response): Promise<object> {
  const form = readForm(req);
  const client = await authenticate(issuer, req, form);
  noteActor(res, client);
  checkGrant(form);
  const scope = grantScopes(client, form.get('scope')).join(' ');
  const lifetimeSeconds = issuer.tokenMinutes * 60;
  const nowSeconds = Math.floor(Date.now() / 1000);
  const claims = {
    iss: issuer.publicUrl,
    aud: issuer.publicUrl,
    sub: client.clientId,
    scope,
    iat: nowSeconds,
    exp: nowSeconds + lifetimeSeconds,
    jti: randomUUID(),
  };
  const token = await issuer.keys.sign(claims, ACCESS_TOKEN_TYPE);
  return {
    access_token: token,
    token_type: 'Bearer',
    expires_in: lifetimeSeconds,
    scope,
  };
}

function sendRefusal(res: Response, { code, message, challenged }: TokenError): void {
  if (challenged) res.setHeader('WWW-Authenticate', 'Basic realm="tokens", charset="UTF-8"');
  sendJson(res, challenged ? 401 : 400, { error: code, error_description: message });
}

/** `POST /auth/token`: the client credentials grant (RFC 6749 §4.4). */
export async function issueToken(issuer: TokenIssuer, req: Request, res: Response): Promise<void> {
  res.setHeader('Cache-Control', 'no-store');
  try {
    sendJson(res, 200, await issue(issuer, req, res));
  } catch (error) {
    if (!(error instanceof TokenError)) throw error;
    if (error.code === 'invalid_client') localsOf(res).refused = { clientKey: error.clientKey };
    if (error.logged !== undefined) issuer.onRefused(error.logged);
    sendRefusal(res, error);
  }
}
