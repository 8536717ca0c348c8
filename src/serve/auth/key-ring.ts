import {
  createLocalJWKSet,
  errors,
  exportJWK,
  generateKeyPair,
  importJWK,
  jwtVerify,
  SignJWT,
} from 'jose';
import { randomUUID } from 'node:crypto';
import type { CryptoKey, JWK, JWTPayload, JWTVerifyOptions } from 'jose';
import type { StoredKey } from '../../store/signing-keys.js';

/** RFC 9068 §2.1: what tells an access token from whatever else the keys may sign. */
export const ACCESS_TOKEN_TYPE = 'at+jwt';

/** RFC 7518 §3.4: ECDSA on P-256 with SHA-256. */
const ALGORITHM = 'ES256';

/** An unknown key id makes us look at the store again, but no more often than this. */
const MIN_RELOAD_INTERVAL_MS = 5_000;

/** Where the keys are kept: shared by all processes of a site. */
export interface KeyStore {
  list(): Promise<StoredKey[]>;
  ensure(makeKey: () => Promise<StoredKey>): Promise<void>;
}

export interface KeyRing {
  /** @param type what kind of token it is (RFC 8725 §3.11) */
  sign(claims: JWTPayload, type: string): Promise<string>;
  /** Throws an error of `jose` when the token is not one of ours. */
  verify(token: string, expected: JWTVerifyOptions): Promise<JWTPayload>;
  publicKeys(): Promise<{ keys: JWK[] }>;
}

interface LoadedKeys {
  readonly signer: { readonly kid: string; readonly key: CryptoKey };
  readonly jwks: { readonly keys: JWK[] };
  readonly resolve: ReturnType<typeof createLocalJWKSet>;
}

async function makeKey(): Promise<StoredKey> {
  const { privateKey } = await generateKeyPair(ALGORITHM, { extractable: true });
  return { kid: randomUUID(), privateJwk: { ...(await exportJWK(privateKey)) } };
}

/** The public part, member by member, so that no private one can slip through (RFC 7518 §6.2). */
function publicPart({ kid, privateJwk }: StoredKey): JWK {
  const { kty, crv, x, y } = privateJwk as JWK;
  return { kty, crv, x, y, kid, alg: ALGORITHM, use: 'sig' } as JWK;
}

async function loadKeys(store: KeyStore): Promise<LoadedKeys> {
  let stored = await store.list();
  if (stored.length === 0) {
    await store.ensure(makeKey);
    stored = await store.list();
  }
  const [newest] = stored;
  if (newest === undefined) throw new Error('the signing key was not kept');
  const key = await importJWK(newest.privateJwk, ALGORITHM);
  if (key instanceof Uint8Array) throw new Error('the signing key is not an EC key');
  const jwks = { keys: stored.map(publicPart) };
  return { signer: { kid: newest.kid, key }, jwks, resolve: createLocalJWKSet(jwks) };
}

/** Signs and verifies with the site's keys, which are made at first need and then only read. */
export function createKeyRing(store: KeyStore): KeyRing {
  let loading: Promise<LoadedKeys> | null = null;
  let loadedAtMs = 0;

  function load(): Promise<LoadedKeys> {
    if (loading !== null) return loading;
    loadedAtMs = Date.now();
    const attempt = loadKeys(store);
    loading = attempt;
    attempt.catch(() => {
      if (loading === attempt) loading = null;
    });
    return attempt;
  }

  async function verify(token: string, expected: JWTVerifyOptions): Promise<JWTPayload> {
    const options = { ...expected, algorithms: [ALGORITHM] };
    try {
      return (await jwtVerify(token, (await load()).resolve, options)).payload;
    } catch (error) {
      const unknownKey = error instanceof errors.JWKSNoMatchingKey;
      if (!unknownKey || Date.now() - loadedAtMs < MIN_RELOAD_INTERVAL_MS) throw error;
      loading = null;
      return (await jwtVerify(token, (await load()).resolve, options)).payload;
    }
  }

  return {
    verify,
    publicKeys: async () => (await load()).jwks,
    async sign(claims, type) {
      const { signer } = await load();
      return new SignJWT(claims)
        .setProtectedHeader({ alg: ALGORITHM, kid: signer.kid, typ: type })
        .sign(signer.key);
    },
  };
}
