/** The form in which a client's public keys are registered: in place, or by the address of the set. */
import { createPublicKey } from 'node:crypto';
import type { JsonWebKey } from 'node:crypto';
import { z } from 'zod';
import type { ClientKeys } from '../../store/clients.js';

/** The algorithms that clients sign assertions with (SMART App Launch 2.2), and the type of key of each. */
export const ASSERTION_KEY_TYPES = { RS384: 'RSA', ES384: 'EC' } as const;
export type AssertionAlgorithm = keyof typeof ASSERTION_KEY_TYPES;
export const ASSERTION_ALGORITHMS = Object.keys(ASSERTION_KEY_TYPES) as AssertionAlgorithm[];

const MAX_KEYS = 20;
const MAX_URL_CHARACTERS = 2_000;
/** RFC 7518 §3.3 asks for 2048 bits; longer ones than this cost the verifier more than they are worth. */
const RSA_BITS = { min: 2_048, max: 8_192 };
/** RFC 7518 §6.2.2, §6.3.2 and §6.4: what nobody but the client may know. */
const PRIVATE_MEMBERS = ['d', 'p', 'q', 'dp', 'dq', 'qi', 'oth', 'k'];
/** All that is kept of a key. */
const PUBLIC_MEMBERS = ['kty', 'kid', 'alg', 'use', 'key_ops', 'n', 'e', 'crv', 'x', 'y'];

function faultOfKey(jwk: Readonly<Record<string, unknown>>): string | null {
  if (PRIVATE_MEMBERS.some((name) => name in jwk)) {
    return 'This is a private key: it is known to others now and must not be used. Register the public part of a new one.';
  }
  try {
    const key = createPublicKey({ key: jwk as JsonWebKey, format: 'jwk' });
    const { modulusLength: bits = 0, namedCurve } = key.asymmetricKeyDetails ?? {};
    if (jwk.kty === 'EC') {
      return namedCurve === 'secp384r1' ? null : 'An EC key must be of the curve P-384.';
    }
    const isLong = bits >= RSA_BITS.min && bits <= RSA_BITS.max;
    return isLong ? null : `An RSA key must have ${RSA_BITS.min} to ${RSA_BITS.max} bits.`;
  } catch {
    return 'This is no public key: RSA needs n and e, EC needs crv, x and y.';
  }
}

const Key = z
  .looseObject({
    kty: z.enum(['RSA', 'EC']),
    kid: z.string().min(1).max(256),
    alg: z.enum(ASSERTION_ALGORITHMS).optional(),
    use: z.literal('sig').optional(),
  })
  .check(({ value, issues }) => {
    const fault = faultOfKey(value);
    if (fault !== null) issues.push({ code: 'custom', message: fault, input: '', path: [] });
  });

function isEachOnce(keys: readonly { kty: string; kid: string }[]): boolean {
  return new Set(keys.map(({ kty, kid }) => `${kty} ${kid}`)).size === keys.length;
}

const KeySet = z.looseObject({
  keys: z
    .array(Key)
    .min(1)
    .max(MAX_KEYS)
    .refine(isEachOnce, 'Two keys have the same kty and kid: nobody could tell which is meant.'),
});

function isKeySetUrl(text: string): boolean {
  if (!URL.canParse(text) || text.includes('#')) return false;
  const { protocol, username, password } = new URL(text);
  return protocol === 'https:' && username === '' && password === '';
}

const KeySetUrl = z
  .string()
  .max(MAX_URL_CHARACTERS)
  .refine(isKeySetUrl, 'It must be an https address without user, password and fragment.');

export const ClientKeysForm = z
  .strictObject({ jwks: KeySet.optional(), jwksUrl: KeySetUrl.optional() })
  .refine(
    ({ jwks, jwksUrl }) => (jwks === undefined) !== (jwksUrl === undefined),
    'It must have jwks or jwksUrl, and not both.',
  );

function publicPart(key: Readonly<Record<string, unknown>>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(key).filter(([name]) => PUBLIC_MEMBERS.includes(name)));
}

/** Checked keys as they are kept: no member that has no business there. */
export function toClientKeys({ jwks, jwksUrl }: z.output<typeof ClientKeysForm>): ClientKeys {
  if (jwksUrl !== undefined) return { jwksUrl };
  return { jwks: { keys: (jwks?.keys ?? []).map(publicPart) } };
}
