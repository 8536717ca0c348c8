import { createHash } from 'node:crypto';
import { decodeJwt, errors } from 'jose';
import { z } from 'zod';
import type { ClientRecord } from '../../store/clients.js';
import type { Identifier } from '../../vitals/shapes.js';
import { HttpError } from '../http/http-error.js';
import type { Caller } from '../http/route.js';
import type { ClientCache } from './client-cache.js';
import { ACCESS_TOKEN_TYPE } from './key-ring.js';
import type { KeyRing } from './key-ring.js';
import type { OutsideIssuer } from './outside-issuer.js';
import { commonScopes } from './scopes.js';

/** The claim of tokens that people's scripts use: the identifier of the person who signed in. */
export const PERSON_CLAIM = 'person';

const Person = z.object({ system: z.string(), value: z.string() });

/** Tokens whose signature need not be checked again. */
const MAX_VERIFIED_TOKENS = 10_000;

interface VerifiedToken {
  /** Where the client is looked up, and by which name. */
  readonly clients: ClientCache;
  readonly client: string;
  /** Who signed in; null: the token is the client's alone. */
  readonly person: Identifier | null;
  readonly scopes: readonly string[];
  readonly expiresAtMs: number;
  /** The caller as made from this state of the client. */
  made?: { readonly from: ClientRecord; readonly caller: Caller };
}

/** Finds out who sends a request; throws a 401 {@link HttpError}. Synchronous for a token just seen. */
export type Identify = (authorization: string | undefined) => Caller | Promise<Caller>;

function unauthorized(detail: string, challenge: string, clientKey?: number): HttpError {
  const headers = { 'WWW-Authenticate': challenge };
  return new HttpError({ status: 401, detail, headers, clientKey });
}

/** RFC 6750 §3.1. The client is named where the token is truly one of its own. */
function invalidToken(detail: string, client?: ClientRecord | null): HttpError {
  return unauthorized(detail, 'Bearer error="invalid_token"', client?.clientKey);
}

function bearerToken(authorization: string | undefined): string {
  const [, token] = /^Bearer ([A-Za-z0-9._~+/=-]+)$/i.exec(authorization ?? '') ?? [];
  if (token === undefined) throw unauthorized('A bearer token is needed.', 'Bearer');
  return token;
}

/** Whether a client may use the gateway at this moment. */
export function isActive(client: ClientRecord, nowMs: number): boolean {
  if (client.sourceDisabled) return false;
  return client.disabledAtMs === null && (client.endsAtMs === null || nowMs < client.endsAtMs);
}

/** The token as a caller, if it and its client are still good. The client's scopes may have shrunk. */
function toCaller(token: VerifiedToken, client: ClientRecord | null): Caller {
  const nowMs = Date.now();
  if (nowMs >= token.expiresAtMs) throw invalidToken('The token has ended.', client);
  if (client === null || !isActive(client, nowMs)) {
    throw invalidToken('The client of this token has no access any more.', client);
  }
  if (token.made?.from === client) return token.made.caller;
  const { clientKey, clientId, sourceKey, source } = client;
  const { attended, secondIdentifierRequired, synchronised } = client;
  const caller: Caller = {
    ...{ clientKey, clientId, sourceKey, source },
    ...{ attended, secondIdentifierRequired, synchronised },
    person: token.person,
    scopes: commonScopes(token.scopes, client.scopes),
  };
  token.made = { from: client, caller };
  return caller;
}

/** Whose tokens are taken: the gateway's own, and those of one other issuer if there is one. */
export interface TokenSources {
  readonly keys: KeyRing;
  readonly publicUrl: string;
  /** Clients by their id here. */
  readonly clients: ClientCache;
  readonly outside: {
    readonly issuer: OutsideIssuer;
    /** Clients by the name that the issuer gives them. */
    readonly clients: ClientCache;
  } | null;
}

async function verifyOwn(
  { keys, publicUrl, clients }: TokenSources,
  token: string,
): Promise<VerifiedToken> {
  const expected = { issuer: publicUrl, audience: publicUrl, typ: ACCESS_TOKEN_TYPE };
  const verifying = keys.verify(token, expected);
  const claims = await verifying.catch(async (error: unknown) => {
    if (!(error instanceof errors.JWTExpired) || error.payload.sub === undefined) throw error;
    // Its signature was good: somebody came too late with it.
    throw invalidToken('The token has ended.', await clients.find(error.payload.sub));
  });
  const { sub, scope, exp } = claims;
  if (sub === undefined || exp === undefined || typeof scope !== 'string') {
    throw invalidToken('The token lacks a claim.');
  }
  // Only the gateway signs with these keys, and it names nobody who has not signed in.
  const person = Person.safeParse(claims[PERSON_CLAIM]).data ?? null;
  return { clients, client: sub, person, scopes: scope.split(' '), expiresAtMs: exp * 1000 };
}

/** Who a token says it is from; nothing is checked yet. */
function statedIssuer(token: string): unknown {
  try {
    return decodeJwt(token).iss;
  } catch {
    return undefined;
  }
}

async function verify(sources: TokenSources, token: string): Promise<VerifiedToken> {
  const { outside } = sources;
  try {
    if (outside === null || statedIssuer(token) !== outside.issuer.issuer) {
      return await verifyOwn(sources, token);
    }
    // People sign in with the pages: such a token stands for its client alone, whoever is its subject.
    const { externalId, scopes, expiresAtMs } = await outside.issuer.verify(token);
    return { clients: outside.clients, client: externalId, person: null, scopes, expiresAtMs };
  } catch (error) {
    if (error instanceof errors.JOSEError) throw invalidToken('The token is not valid.');
    throw error;
  }
}

/**
 * Makes the check of bearer tokens: signature, issuer, audience, end, then the client's present state.
 * Verified tokens are remembered by their hash, so that a busy sender costs no signature check each.
 */
export function createIdentify(sources: TokenSources): Identify {
  const verified = new Map<string, VerifiedToken>();

  function remember(hash: string, token: VerifiedToken): void {
    verified.delete(hash);
    if (verified.size >= MAX_VERIFIED_TOKENS) verified.delete(verified.keys().next().value ?? '');
    verified.set(hash, token);
  }

  return (authorization) => {
    const token = bearerToken(authorization);
    const hash = createHash('sha256').update(token).digest('base64');
    const known = verified.get(hash);
    if (known === undefined) {
      return verify(sources, token).then(async (fresh) => {
        const caller = toCaller(fresh, await fresh.clients.find(fresh.client));
        remember(hash, fresh);
        return caller;
      });
    }
    remember(hash, known);
    const client = known.clients.peek(known.client);
    if (client !== undefined) return toCaller(known, client);
    return known.clients.find(known.client).then((found) => toCaller(known, found));
  };
}
