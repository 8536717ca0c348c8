import { createHash, randomBytes, randomUUID } from 'node:crypto';
import type { Pool } from 'pg';

/** A program that may ask for tokens, with the source that it belongs to. Times in ms since the epoch. */
export interface ClientRecord {
  readonly clientKey: number;
  readonly clientId: string;
  readonly name: string;
  readonly scopes: readonly string[];
  readonly secretSha256: Buffer;
  readonly sourceKey: number;
  readonly source: string;
  readonly attended: boolean;
  readonly secondIdentifierRequired: boolean;
  /** The clock of its source is kept by a time service. */
  readonly synchronised: boolean;
  /** Its source is disabled, and with it all its clients. */
  readonly sourceDisabled: boolean;
  readonly createdAtMs: number;
  readonly disabledAtMs: number | null;
  readonly endsAtMs: number | null;
}

export interface NewClient {
  readonly name: string;
  readonly scopes: readonly string[];
  /** An existing source of that name is joined, if it is attended in the same way. */
  readonly source: { readonly name: string; readonly attended: boolean };
}

export interface Credentials {
  readonly clientId: string;
  /** Told once; only its hash is kept. */
  readonly clientSecret: string;
}

/** The form in which a secret is kept. It has 256 random bits, so that a plain hash is enough. */
export function hashSecret(secret: string): Buffer {
  return createHash('sha256').update(secret).digest();
}

function makeSecret(): string {
  return randomBytes(32).toString('base64url');
}

async function registerSource(pool: Pool, source: NewClient['source']): Promise<number | null> {
  await pool.query(
    'insert into sources (name, attended) values ($1, $2) on conflict (name) do nothing',
    [source.name, source.attended],
  );
  const { rows } = await pool.query<{ source_key: number }>(
    'select source_key from sources where name = $1 and attended = $2',
    [source.name, source.attended],
  );
  return rows[0]?.source_key ?? null;
}

/**
 * Registers a client, and its source if that is new.
 * Null: a source of that name exists and is attended in another way than said; nothing was added.
 */
export async function addClient(pool: Pool, client: NewClient): Promise<Credentials | null> {
  const sourceKey = await registerSource(pool, client.source);
  if (sourceKey === null) return null;
  const clientId = randomUUID();
  const clientSecret = makeSecret();
  await pool.query(
    `insert into clients (client_id, name, secret_sha256, scopes, source_key)
     values ($1, $2, $3, $4, $5)`,
    [clientId, client.name, hashSecret(clientSecret), client.scopes, sourceKey],
  );
  return { clientId, clientSecret };
}

interface ClientRow {
  client_key: number;
  client_id: string;
  name: string;
  scopes: string[];
  secret_sha256: Buffer;
  source_key: number;
  source: string;
  attended: boolean;
  second_identifier_required: boolean;
  synchronised: boolean;
  source_disabled: boolean;
  created_at: Date;
  disabled_at: Date | null;
  ends_at: Date | null;
}

const SELECT_CLIENTS = `
  select c.client_key, c.client_id, c.name, c.scopes, c.secret_sha256, c.source_key,
         s.name as source, s.attended, s.second_identifier_required,
         s.synchronised, s.disabled_at is not null as source_disabled, c.created_at, c.disabled_at, c.ends_at
    from clients c join sources s using (source_key)`;

function toRecord(row: ClientRow): ClientRecord {
  return {
    clientKey: row.client_key,
    clientId: row.client_id,
    name: row.name,
    scopes: row.scopes,
    secretSha256: row.secret_sha256,
    sourceKey: row.source_key,
    source: row.source,
    attended: row.attended,
    secondIdentifierRequired: row.second_identifier_required,
    synchronised: row.synchronised,
    sourceDisabled: row.source_disabled,
    createdAtMs: row.created_at.getTime(),
    disabledAtMs: row.disabled_at?.getTime() ?? null,
    endsAtMs: row.ends_at?.getTime() ?? null,
  };
}

/** The client as registered now; null when there is none. */
export async function findClient(pool: Pool, clientId: string): Promise<ClientRecord | null> {
  const { rows } = await pool.query<ClientRow>({
    name: 'find-client',
    text: `${SELECT_CLIENTS} where c.client_id = $1`,
    values: [clientId],
  });
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** All clients, oldest first. */
export async function listClients(pool: Pool): Promise<ClientRecord[]> {
  const { rows } = await pool.query<ClientRow>(`${SELECT_CLIENTS} order by c.client_key`);
  return rows.map(toRecord);
}

/** Gives the client a new secret; the old one ends at once. Null: no such client. */
export async function rotateSecret(pool: Pool, clientId: string): Promise<Credentials | null> {
  const clientSecret = makeSecret();
  const { rowCount } = await pool.query(
    'update clients set secret_sha256 = $2 where client_id = $1',
    [clientId, hashSecret(clientSecret)],
  );
  return rowCount === 0 ? null : { clientId, clientSecret };
}

/** Disables a client (null: enables it again). A client disabled before keeps its first time. False: no such client. */
export async function setDisabled(
  pool: Pool,
  clientId: string,
  disabledAtMs: number | null,
): Promise<boolean> {
  const { rowCount } = await pool.query(
    `update clients set disabled_at = case when $2::timestamptz is null then null
                                           else coalesce(disabled_at, $2) end
      where client_id = $1`,
    [clientId, disabledAtMs === null ? null : new Date(disabledAtMs)],
  );
  return rowCount !== 0;
}

/** Sets when the client's access ends; null: never. False: no such client. */
export async function setEnd(
  pool: Pool,
  clientId: string,
  endsAtMs: number | null,
): Promise<boolean> {
  const { rowCount } = await pool.query('update clients set ends_at = $2 where client_id = $1', [
    clientId,
    endsAtMs === null ? null : new Date(endsAtMs),
  ]);
  return rowCount !== 0;
}
