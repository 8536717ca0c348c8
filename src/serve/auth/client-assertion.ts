/**
 * A client that proves itself by a signed assertion: RFC 7523 §3 as SMART App Launch 2.2
 * (client-confidential-asymmetric) profiles it.
 */
import { createLocalJWKSet, decodeJwt, decodeProtectedHeader, jwtVerify } from 'jose';
import type { JWK, JWTPayload, ProtectedHeaderParameters } from 'jose';
import type { ClientKeys, ClientRecord } from '../../store/clients.js';
import { isUuid } from '../http/route.js';
import { ASSERTION_ALGORITHMS, ASSERTION_KEY_TYPES } from './client-keys-form.js';
import type { AssertionAlgorithm } from './client-keys-form.js';
import { isActive } from './identify.js';
import { KeySetUnavailable, matchingKeys } from './key-sets.js';
import type { KeySets, PublishedKey, WantedKey } from './key-sets.js';
import { invalidAssertion } from './token-error.js';
import type { TokenError } from './token-error.js';

export const ASSERTION_TYPE = 'urn:ietf:params:oauth:client-assertion-type:jwt-bearer';

/** SMART App Launch 2.2: an assertion ends within five minutes. */
const MAX_LIFETIME_SECONDS = 300;
/** How far a client's clock may be from ours. */
const CLOCK_TOLERANCE_SECONDS = 10;
const MAX_JTI_CHARACTERS = 256;

export interface AssertionChecker {
  readonly findClient: (clientId: string) => Promise<ClientRecord | null>;
  readonly keySets: KeySets;
  /** False: this assertion was used before, in whatever process. */
  readonly useAssertion: (clientKey: number, jti: string, expiresAtMs: number) => Promise<boolean>;
  /** What an assertion must be made for. */
  readonly tokenUrl: string;
}

interface Header extends WantedKey {
  readonly alg: AssertionAlgorithm;
  readonly jku: string | undefined;
}

/** One sentence for all that would tell who is registered, and with what. */
const NOT_ACCEPTED =
  'The client is not known, has no access, or has no registered key that this assertion is signed with: iss, kid, jku and the signature must all fit its registration.';

function refused(reason: string, client: ClientRecord | null): TokenError {
  if (client === null) return invalidAssertion(NOT_ACCEPTED, { reason });
  return refusedOf(client, reason, NOT_ACCEPTED);
}

function refusedOf({ clientId, clientKey }: ClientRecord, reason: string, words: string) {
  return invalidAssertion(words, { reason, clientId }, clientKey);
}

function decode(assertion: string): { header: ProtectedHeaderParameters; claims: JWTPayload } {
  try {
    return { header: decodeProtectedHeader(assertion), claims: decodeJwt(assertion) };
  } catch {
    throw invalidAssertion('The assertion is not a signed JWT.');
  }
}

function readHeader({ alg, kid, typ, jku }: ProtectedHeaderParameters): Header {
  const algorithm = ASSERTION_ALGORITHMS.find((one) => one === alg);
  if (algorithm === undefined) {
    throw invalidAssertion(`alg must be ${ASSERTION_ALGORITHMS.join(' or ')}.`);
  }
  if (typeof typ !== 'string' || typ.toUpperCase() !== 'JWT') {
    throw invalidAssertion('typ must be JWT.');
  }
  if (typeof kid !== 'string' || kid === '') throw invalidAssertion('kid is missing.');
  if (jku !== undefined && typeof jku !== 'string')
    throw invalidAssertion('jku must be an address.');
  return { alg: algorithm, kid, kty: ASSERTION_KEY_TYPES[algorithm], jku };
}

/** RFC 7523 §3, claim by claim; the signature is checked elsewhere. */
function readClaims(
  claims: Readonly<Record<string, unknown>>,
  tokenUrl: string,
): { clientId: string; jti: string; exp: number } {
  const { iss, sub, aud, exp, nbf = 0, jti } = claims;
  const nowSeconds = Date.now() / 1000;
  if (typeof iss !== 'string' || iss === '' || sub !== iss) {
    throw invalidAssertion('iss and sub must both be the client id.');
  }
  // One audience: an assertion that others accept as well could be used here by one of them.
  const [audience, ...others] = [aud].flat();
  if (audience !== tokenUrl || others.length > 0) {
    throw invalidAssertion(`aud must be ${tokenUrl} and nothing else.`);
  }
  if (typeof exp !== 'number')
    throw invalidAssertion('exp is missing, or not a number of seconds.');
  if (exp <= nowSeconds - CLOCK_TOLERANCE_SECONDS)
    throw invalidAssertion('The assertion has ended.');
  if (exp > nowSeconds + MAX_LIFETIME_SECONDS + CLOCK_TOLERANCE_SECONDS) {
    throw invalidAssertion('exp must be at most five minutes ahead.');
  }
  if (typeof nbf !== 'number' || nbf > nowSeconds + CLOCK_TOLERANCE_SECONDS) {
    throw invalidAssertion('nbf is still to come.');
  }
  if (typeof jti !== 'string' || jti === '' || jti.length > MAX_JTI_CHARACTERS) {
    throw invalidAssertion(`jti must be a text of 1 to ${MAX_JTI_CHARACTERS} characters.`);
  }
  return { clientId: iss, jti, exp };
}

async function registeredKeys(
  client: ClientRecord,
  keys: ClientKeys,
  wanted: WantedKey,
  { keySets }: AssertionChecker,
): Promise<readonly PublishedKey[]> {
  if ('jwks' in keys) return matchingKeys(keys.jwks.keys, wanted);
  try {
    return await keySets.find(keys.jwksUrl, wanted);
  } catch (error) {
    if (!(error instanceof KeySetUnavailable)) throw error;
    const words = 'The key set of the client cannot be read at its registered address just now.';
    throw refusedOf(client, `key set unavailable: ${error.message}`, words);
  }
}

/** The one key that may have signed. Several of the same kid and kty are as good as none. */
async function signingKey(
  client: ClientRecord,
  header: Header,
  checker: AssertionChecker,
): Promise<JWK> {
  const { keys } = client;
  if (keys === null) throw refused('the client has no keys', client);
  const registeredUrl = 'jwksUrl' in keys ? keys.jwksUrl : undefined;
  if (header.jku !== undefined && header.jku !== registeredUrl) {
    throw refused('jku is not the registered address', client);
  }
  const [key, ...others] = await registeredKeys(client, keys, header, checker);
  if (key === undefined) throw refused('no key has this kid and kty', client);
  if (others.length > 0) throw refused('several keys have this kid and kty', client);
  return key;
}

async function checkSignature(
  assertion: string,
  key: JWK,
  { alg }: Header,
  client: ClientRecord,
): Promise<void> {
  try {
    // Also heeds what the key itself says of its use, and a critical header that nobody knows.
    await jwtVerify(assertion, createLocalJWKSet({ keys: [key] }), {
      algorithms: [alg],
      clockTolerance: CLOCK_TOLERANCE_SECONDS,
    });
  } catch (error) {
    // Nothing is asked of anybody here: whatever fails is the assertion's fault, or its key's.
    throw refused(`the signature does not fit: ${String(error)}`, client);
  }
}

/** The client id that an assertion states, before anything is checked: for counting failures. */
export function statedClient(assertion: string): string {
  try {
    const { iss } = decodeJwt<{ iss?: unknown }>(assertion);
    return typeof iss === 'string' ? iss : '';
  } catch {
    return '';
  }
}

/**
 * The client that signed the assertion, which is used up by this.
 * @throws TokenError
 */
export async function authenticateByAssertion(
  checker: AssertionChecker,
  assertion: string,
): Promise<ClientRecord> {
  const { header: rawHeader, claims } = decode(assertion);
  const header = readHeader(rawHeader);
  const { clientId, jti, exp } = readClaims(claims, checker.tokenUrl);
  const client = isUuid(clientId) ? await checker.findClient(clientId) : null;
  if (client === null) throw refused('there is no such client', null);
  if (!isActive(client, Date.now())) throw refused('the client has no access any more', client);
  await checkSignature(assertion, await signingKey(client, header, checker), header, client);
  const expiresAtMs = Math.ceil(exp + CLOCK_TOLERANCE_SECONDS) * 1000;
  if (!(await checker.useAssertion(client.clientKey, jti, expiresAtMs))) {
    const words = 'An assertion with this jti was used before; each is good once.';
    throw refusedOf(client, 'the assertion was used before', words);
  }
  return client;
}
