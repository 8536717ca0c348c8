/**
 * Access tokens of the site's own OpenID provider (AUTH_ISSUER): verified by the keys that it publishes, and
 * worth what the client that they name was registered for here. OpenID Connect Discovery 1.0 §4; the
 * claims of RFC 9068, and what providers send in their place.
 */
import { createLocalJWKSet, decodeProtectedHeader, errors, jwtVerify } from 'jose';
import type { JWTPayload, ProtectedHeaderParameters } from 'jose';
import { z } from 'zod';
import type { FetchOutside } from '../../outside/fetch-outside.js';
import { HttpError } from '../http/http-error.js';
import { fetchJson, KeySetUnavailable, loadKeySet, RemoteKeySet } from './key-sets.js';
import type { LoadedKeySet, PublishedKey, WantedKey } from './key-sets.js';

/** Asymmetric only: a shared secret would let the gateway make the provider's tokens. */
const ALGORITHMS = [
  'RS256',
  'RS384',
  'RS512',
  'PS256',
  'PS384',
  'PS512',
  'ES256',
  'ES384',
  'ES512',
];
const CLOCK_TOLERANCE_SECONDS = 10;
/** How issuers call clients: printable ASCII (RFC 6749, appendix A.1). */
export const EXTERNAL_ID = /^[\x20-\x7e]{1,255}$/;
const MAX_SCOPE_CHARACTERS = 10_000;
const RETRY_AFTER_SECONDS = 10;

export interface OutsideIssuerSettings {
  /** As the provider calls itself, to the letter. */
  readonly issuer: string;
  /** What its tokens must be made for. */
  readonly audience: string;
  /** For the provider's own host, which configuration trusts. */
  readonly fetchFromIssuer: FetchOutside;
  /** For keys that it publishes at another host. */
  readonly fetch: FetchOutside;
}

/** What a token of the provider says. */
export interface OutsideClaims {
  /** The name under which the client must be registered here as its external id. */
  readonly externalId: string;
  readonly scopes: readonly string[];
  readonly expiresAtMs: number;
}

export interface OutsideIssuer {
  readonly issuer: string;
  /**
   * @throws an error of `jose` when the token is not good; HttpError 503 when the provider's keys are not
   *   to be had, so that nobody takes a good token for a bad one.
   */
  verify(token: string): Promise<OutsideClaims>;
}

const Discovery = z.looseObject({ issuer: z.string(), jwks_uri: z.string() });

async function discoverKeys(settings: OutsideIssuerSettings): Promise<LoadedKeySet> {
  const { issuer, fetch, fetchFromIssuer } = settings;
  const address = `${issuer.replace(/\/$/, '')}/.well-known/openid-configuration`;
  const { value } = await fetchJson(fetchFromIssuer, address);
  const document = Discovery.safeParse(value);
  // Discovery 1.0 §4.3: who answers must call itself what it was asked as.
  if (
    !document.success ||
    document.data.issuer !== issuer ||
    !URL.canParse(document.data.jwks_uri)
  ) {
    throw new KeySetUnavailable('The discovery document is not one of this issuer.');
  }
  const { jwks_uri: keysAt } = document.data;
  const isOwnHost = new URL(keysAt).host === new URL(issuer).host;
  return loadKeySet(isOwnHost ? fetchFromIssuer : fetch, keysAt);
}

function notGood(why: string): errors.JWTInvalid {
  return new errors.JWTInvalid(why);
}

function readHeader(token: string): WantedKey {
  const { alg = '', kid = '', typ = 'JWT' } = decodeHeader(token);
  // RFC 9068 §4 asks for at+jwt, which many providers leave at JWT; other kinds of JWT are no access tokens.
  if (!/^(?:application\/)?(?:at\+)?jwt$/i.test(typ)) throw notGood('not an access token');
  return { kid, kty: alg.startsWith('ES') ? 'EC' : 'RSA' };
}

function decodeHeader(token: string): ProtectedHeaderParameters {
  try {
    return decodeProtectedHeader(token);
  } catch {
    throw notGood('no header');
  }
}

/**
 * The client that a token was given to: `client_id` (RFC 9068), else `azp` (OpenID Connect Core §2), else
 * the subject. Only the first that is there counts: who chooses a subject must not pass for a client.
 */
function clientOf({ client_id: clientId, azp, sub }: JWTPayload): string {
  const name = clientId ?? azp ?? sub;
  if (typeof name !== 'string' || !EXTERNAL_ID.test(name)) throw notGood('no client is named');
  if (clientId !== undefined && azp !== undefined && clientId !== azp) {
    throw notGood('two clients are named');
  }
  return name;
}

/** Scopes as one text (RFC 9068 §2.2.3) or, as some providers have it, a list called `scp`. */
function scopesOf({ scope, scp }: JWTPayload): string[] {
  const said = scope ?? scp ?? '';
  const text = Array.isArray(said) ? said.join(' ') : said;
  if (typeof text !== 'string' || text.length > MAX_SCOPE_CHARACTERS) {
    throw notGood('the scopes cannot be read');
  }
  return text.split(' ').filter((one) => one !== '');
}

async function checkToken(
  token: string,
  keys: readonly PublishedKey[],
  { issuer, audience }: OutsideIssuerSettings,
): Promise<JWTPayload> {
  const expected = { issuer, audience, algorithms: ALGORITHMS, requiredClaims: ['exp'] };
  try {
    const options = { ...expected, clockTolerance: CLOCK_TOLERANCE_SECONDS };
    return (await jwtVerify(token, createLocalJWKSet({ keys: [...keys] }), options)).payload;
  } catch (error) {
    // Nothing is asked of anybody here: whatever fails is the token's fault, or its key's.
    throw error instanceof errors.JOSEError ? error : notGood('its key cannot be used');
  }
}

function unavailable(): HttpError {
  return new HttpError({
    status: 503,
    detail: 'The keys of the issuer of this token cannot be read just now. Send the request again.',
    headers: { 'Retry-After': String(RETRY_AFTER_SECONDS) },
  });
}

/** @param onUnavailable told why the keys of the issuer are not to be had */
export function createOutsideIssuer(
  settings: OutsideIssuerSettings,
  onUnavailable: (reason: string) => void,
): OutsideIssuer {
  const { issuer } = settings;
  const keySet = new RemoteKeySet(() => discoverKeys(settings));
  return {
    issuer,
    async verify(token) {
      const header = readHeader(token);
      const keys = await keySet.find(header).catch((error: unknown) => {
        if (!(error instanceof KeySetUnavailable)) throw error;
        onUnavailable(error.message);
        throw unavailable();
      });
      const payload = await checkToken(token, keys, settings);
      return {
        externalId: clientOf(payload),
        scopes: scopesOf(payload),
        expiresAtMs: (payload.exp ?? 0) * 1000,
      };
    },
  };
}
