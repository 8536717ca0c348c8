/** Passwords of the demo's people: kept as scrypt (RFC 7914) of a salt of their own. */
import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

const KEY_BYTES = 32;
const SALT_BYTES = 16;
/** 32 MiB and some 60 ms a try, above what RFC 7914 §2 calls fit for interactive sign-in. */
const COST = { N: 32_768, r: 8, p: 1, maxmem: 64 * 1024 * 1024 };

export interface PasswordHash {
  readonly salt: Buffer;
  readonly passwordScrypt: Buffer;
}

function derive(password: string, salt: Buffer): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    scrypt(password, salt, KEY_BYTES, COST, (error, key) => {
      if (error === null) resolve(key);
      else reject(error);
    });
  });
}

export async function hashPassword(password: string): Promise<PasswordHash> {
  const salt = randomBytes(SALT_BYTES);
  return { salt, passwordScrypt: await derive(password, salt) };
}

/** @param known null: there is no such person; it takes as long as if there were, and is false */
export async function isPassword(password: string, known: PasswordHash | null): Promise<boolean> {
  const key = await derive(password, known?.salt ?? Buffer.alloc(SALT_BYTES));
  return timingSafeEqual(key, known?.passwordScrypt ?? Buffer.alloc(KEY_BYTES)) && known !== null;
}
