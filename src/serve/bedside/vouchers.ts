/**
 * Vouchers: by one of these the next person at a device hands in the sets that another took there while
 * there was no network. It says whose they are, and is good for nothing else.
 */
import { randomUUID } from 'node:crypto';
import type { Request } from 'express';
import { errors } from 'jose';
import { z } from 'zod';
import type { Identifier } from '../../vitals/shapes.js';
import type { KeyRing } from '../auth/key-ring.js';
import { HttpError } from '../http/http-error.js';
import type { Caller } from '../http/route.js';

/** The header that a set of somebody else comes with. */
export const VOUCHER_HEADER = 'Taken-By';
/** RFC 8725 §3.11: no other kind of token is ever taken for one, and it for none. */
const TYPE = 'set-voucher+jwt';
const DAYS = 7;
const SECONDS_A_DAY = 24 * 60 * 60;

export interface Voucher {
  readonly voucher: string;
  /** Seconds until it ends. */
  readonly expiresIn: number;
}

export interface Vouchers {
  /** @throws HttpError 403 when nobody is signed in */
  readonly issue: (caller: Caller) => Promise<Voucher>;
  /**
   * Whose set a request brings, where that is not the caller; null: the caller's own, or a program's.
   * @throws HttpError 403 when the voucher is not good
   */
  readonly takerOf: (req: Request, caller: Caller) => Promise<Identifier | null>;
}

const Claims = z.object({
  sub: z.string(),
  person: z.object({ system: z.string(), value: z.string() }),
});

function notGood(): HttpError {
  const detail =
    'The voucher of this set is not good, or not any more; nothing was kept. The person who took the set has to sign in and send it.';
  return new HttpError({ status: 403, detail });
}

function isSame(one: Identifier, other: Identifier): boolean {
  return one.system === other.system && one.value === other.value;
}

export function createVouchers(keys: KeyRing, publicUrl: string): Vouchers {
  // An audience of its own: nothing that takes tokens for the gateway takes this one.
  const audience = `${publicUrl}/bedside/vouchers`;

  async function read(voucher: string): Promise<z.output<typeof Claims>> {
    try {
      const expected = { issuer: publicUrl, audience, typ: TYPE };
      return Claims.parse(await keys.verify(voucher, expected));
    } catch (error) {
      if (error instanceof errors.JOSEError || error instanceof z.ZodError) throw notGood();
      throw error;
    }
  }

  return {
    async issue({ clientId, person }) {
      if (person === null) {
        throw new HttpError({ status: 403, detail: 'A voucher is for somebody who is signed in.' });
      }
      const nowSeconds = Math.floor(Date.now() / 1000);
      const expiresIn = DAYS * SECONDS_A_DAY;
      const claims = {
        ...{ iss: publicUrl, aud: audience, sub: clientId, person, jti: randomUUID() },
        ...{ iat: nowSeconds, exp: nowSeconds + expiresIn },
      };
      return { voucher: await keys.sign(claims, TYPE), expiresIn };
    },
    async takerOf(req, caller) {
      const voucher = req.get(VOUCHER_HEADER);
      if (voucher === undefined) return null;
      const { sub, person } = await read(voucher);
      // Only somebody signed in hands sets in, and only at the pages that the taker had signed in with.
      if (caller.person === null || sub !== caller.clientId) throw notGood();
      return isSame(person, caller.person) ? null : person;
    },
  };
}
