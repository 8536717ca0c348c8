import { randomUUID } from 'node:crypto';
import { exportJWK, generateKeyPair, SignJWT } from 'jose';
import type { CryptoKey, JWK } from 'jose';
import { addClientWithKeys } from '../../../src/store/clients.js';
import type { ClientKeys } from '../../../src/store/clients.js';
import type { TestDatabase } from '../../setup/database.js';

/** A key pair of a client, made by a general library. */
export interface KeyPair {
  readonly alg: 'RS384' | 'ES384';
  readonly privateKey: CryptoKey;
  /** As it is registered or published. */
  readonly jwk: JWK & { readonly kid: string };
}

export async function makeKeyPair(alg: KeyPair['alg'], kid = `${alg}-key`): Promise<KeyPair> {
  const { privateKey, publicKey } = await generateKeyPair(alg, { extractable: true });
  return { alg, privateKey, jwk: { ...(await exportJWK(publicKey)), kid, alg, use: 'sig' } };
}

export async function addKeyedClient(
  database: TestDatabase,
  scopes: readonly string[],
  keys: ClientKeys,
): Promise<string> {
  const source = { name: 'larkfield-record', attended: true };
  const added = await addClientWithKeys(database.pool, { name: 'record', scopes, source }, keys);
  if (added === null) throw new Error('the source is attended in another way');
  return added.clientId;
}

export interface AssertionWords {
  readonly claims?: Readonly<Record<string, unknown>>;
  readonly header?: Readonly<Record<string, unknown>>;
}

/** An assertion as SMART App Launch 2.2 has it (client-confidential-asymmetric), but for what a test changes. */
export async function signAssertion(
  { alg, privateKey, jwk }: KeyPair,
  clientId: string,
  url: string,
  { claims = {}, header = {} }: AssertionWords = {},
): Promise<string> {
  const nowSeconds = Math.floor(Date.now() / 1000);
  return new SignJWT({
    ...{ iss: clientId, sub: clientId, aud: `${url}/auth/token` },
    ...{ exp: nowSeconds + 300, jti: randomUUID() },
    ...claims,
  })
    .setProtectedHeader({ alg, kid: jwk.kid, typ: 'JWT', ...header })
    .sign(privateKey);
}

export const ASSERTION_TYPE = 'urn:ietf:params:oauth:client-assertion-type:jwt-bearer';

export interface TokenAnswer {
  readonly status: number;
  readonly headers: Headers;
  readonly body: Readonly<Record<string, unknown>>;
}

export async function askWithAssertion(
  url: string,
  assertion: string,
  form: Readonly<Record<string, string>> = {},
  headers: Readonly<Record<string, string>> = {},
): Promise<TokenAnswer> {
  const answer = await fetch(`${url}/auth/token`, {
    method: 'POST',
    headers,
    body: new URLSearchParams({
      ...{ grant_type: 'client_credentials', client_assertion_type: ASSERTION_TYPE },
      client_assertion: assertion,
      ...form,
    }),
  });
  const body = (await answer.json()) as Record<string, unknown>;
  return { status: answer.status, headers: answer.headers, body };
}
