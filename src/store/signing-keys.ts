import type { Pool } from 'pg';
import { inTransaction } from './transaction.js';

/** A private key as a JSON Web Key (RFC 7517), with its key id. */
export interface StoredKey {
  readonly kid: string;
  readonly privateJwk: Readonly<Record<string, unknown>>;
}

interface KeyRow {
  kid: string;
  private_jwk: Record<string, unknown>;
}

const SELECT_KEYS = 'select kid, private_jwk from signing_keys order by created_at desc, kid';

/** All signing keys, the newest first: that one signs, all of them verify. */
export async function listSigningKeys(pool: Pool): Promise<StoredKey[]> {
  const { rows } = await pool.query<KeyRow>(SELECT_KEYS);
  return rows.map((row) => ({ kid: row.kid, privateJwk: row.private_jwk }));
}

/** Keeps the key that `makeKey` makes if there is none yet. Of many processes that start together, one does. */
export async function ensureSigningKey(
  pool: Pool,
  makeKey: () => Promise<StoredKey>,
): Promise<void> {
  await inTransaction(pool, async (client) => {
    await client.query(
      "select pg_advisory_xact_lock(hashtext(current_schema()), hashtext('signing_keys'))",
    );
    const { rows } = await client.query<KeyRow>(SELECT_KEYS);
    if (rows.length > 0) return;
    const key = await makeKey();
    await client.query('insert into signing_keys (kid, private_jwk) values ($1, $2)', [
      key.kid,
      key.privateJwk,
    ]);
  });
}
