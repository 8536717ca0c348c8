import { randomUUID, timingSafeEqual } from 'node:crypto';
import type { Request, Response } from 'express';
import { hashSecret } from '../../store/clients.js';
import type { ClientRecord } from '../../store/clients.js';
import { addressOf } from '../http/rate-limits.js';
import { bodyOf } from '../http/read-body.js';
import { isUuid } from '../http/route.js';
import type { FailureLimit } from './failure-limit.js';
import { isActive } from './identify.js';
import type { KeyRing } from './key-ring.js';
import { hasScope, isKnownScope } from './scopes.js';

/** The codes of RFC 6749 §5.2 that this grant can meet. */
type TokenErrorCode =
  'invalid_request' | 'invalid_client' | 'invalid_scope' | 'unsupported_grant_type';

class TokenError extends Error {
  readonly code: TokenErrorCode;

  constructor(code: TokenErrorCode, description: string) {
    super(description);
    this.code = code;
  }
}

export interface TokenIssuer {
  readonly keys: KeyRing;
  /** The present state, not a remembered one: a secret just rotated must work at once. */
  readonly findClient: (clientId: string) => Promise<ClientRecord | null>;
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  readonly failures: FailureLimit;
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

function secretMatches(client: ClientRecord, secret: string): boolean {
  return timingSafeEqual(client.secretSha256, hashSecret(secret));
}

/** The client that proves itself; every failure sounds the same, so that ids cannot be probed. */
async function authenticate(issuer: TokenIssuer, req: Request): Promise<ClientRecord> {
  const basic = readBasic(req.headers.authorization);
  const key = `${addressOf(req)} ${basic?.clientId.slice(0, 64) ?? ''}`;
  await issuer.failures.check(key);
  if (basic !== null && isUuid(basic.clientId)) {
    const client = await issuer.findClient(basic.clientId);
    if (client !== null && secretMatches(client, basic.secret) && isActive(client, Date.now())) {
      return client;
    }
  }
  await issuer.failures.count(key);
  throw new TokenError('invalid_client', 'Client id and secret are not accepted.');
}

/** RFC 6749 §3.2: no parameter may stand twice. */
function readForm(req: Request): URLSearchParams {
  const form = new URLSearchParams(bodyOf(req).toString('utf8'));
  const names = [...form.keys()];
  if (new Set(names).size !== names.length) {
    throw new TokenError('invalid_request', 'A parameter stands more than once.');
  }
  return form;
}

function checkGrant(form: URLSearchParams): void {
  const grant = form.get('grant_type');
  if (grant === null) throw new TokenError('invalid_request', 'grant_type is missing.');
  if (grant !== 'client_credentials') {
    throw new TokenError('unsupported_grant_type', 'The one grant here is client_credentials.');
  }
}

/** What is asked for, if the client holds all of it; all that it holds when nothing is asked for. */
function grantScopes(client: ClientRecord, asked: string | null): readonly string[] {
  const scopes = (asked ?? '').split(' ').filter((scope) => scope !== '');
  if (scopes.length === 0) return client.scopes;
  const tooMuch = scopes.filter((scope) => !isKnownScope(scope) || !hasScope(client.scopes, scope));
  if (tooMuch.length > 0) {
    throw new TokenError('invalid_scope', 'The client may not have all the scopes it asks for.');
  }
  return [...new Set(scopes)];
}

async function issue(issuer: TokenIssuer, req: Request): Promise<object> {
  const client = await authenticate(issuer, req);
  const form = readForm(req);
  checkGrant(form);
  const scope = grantScopes(client, form.get('scope')).join(' ');
  const lifetimeSeconds = issuer.tokenMinutes * 60;
  const nowSeconds = Math.floor(Date.now() / 1000);
  const token = await issuer.keys.sign({
    iss: issuer.publicUrl,
    aud: issuer.publicUrl,
    sub: client.clientId,
    scope,
    iat: nowSeconds,
    exp: nowSeconds + lifetimeSeconds,
    jti: randomUUID(),
  });
  return {
    access_token: token,
    token_type: 'Bearer',
    expires_in: lifetimeSeconds,
    scope,
  };
}

/** `POST /auth/token`: the client credentials grant (RFC 6749 §4.4) by `client_secret_basic`. */
export async function issueToken(issuer: TokenIssuer, req: Request, res: Response): Promise<void> {
  res.setHeader('Cache-Control', 'no-store');
  try {
    res.status(200).json(await issue(issuer, req));
  } catch (error) {
    if (!(error instanceof TokenError)) throw error;
    const refused = error.code === 'invalid_client';
    if (refused) res.setHeader('WWW-Authenticate', 'Basic realm="tokens", charset="UTF-8"');
    res.status(refused ? 401 : 400).json({ error: error.code, error_description: error.message });
  }
}
