import { createHash, randomBytes, randomUUID } from 'node:crypto';
import type { Pool } from 'pg';
import { ExternalIdTaken } from '../errors.js';

/** The public keys of a client: in place (JSON Web Keys, RFC 7517), or where it publishes them. */
export type ClientKeys =
  | { readonly jwks: { readonly keys: readonly Readonly<Record<string, unknown>>[] } }
  | { readonly jwksUrl: string };

/** A program that may ask for tokens, with the source that it belongs to. Times in ms since the epoch. */
export interface ClientRecord {
  readonly clientKey: number;
  readonly clientId: string;
  readonly name: string;
  readonly scopes: readonly string[];
  /** Null: it proves itself by its keys. */
  readonly secretSha256: Buffer | null;
  readonly keys: ClientKeys | null;
  /** Its name at the issuer of tokens that the site trusts beside its own. */
  readonly externalId: string | null;
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
  readonly externalId?: string | undefined;
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

/** Columns of the proof: a secret's hash, keys, or the address of keys. */
type ProofColumns = readonly [secretSha256: Buffer | null, jwks: unknown, jwksUrl: string | null];

function proofOf(keys: ClientKeys): ProofColumns {
  return 'jwks' in keys ? [null, keys.jwks, null] : [null, null, keys.jwksUrl];
}

/** PostgreSQL's unique_violation; the external id is the one name that a client brings itself. */
function translate(error: unknown): unknown {
  const { code, constraint } = error as { code?: unknown; constraint?: unknown };
  return code === '23505' && constraint === 'clients_external_id_key'
    ? new ExternalIdTaken()
    : error;
}

/** The new id; null: the source is attended in another way. */
async function insertClient(
  pool: Pool,
  client: NewClient,
  proof: ProofColumns,
): Promise<string | null> {
  const sourceKey = await registerSource(pool, client.source);
  if (sourceKey === null) return null;
  const clientId = randomUUID();
  const { name, scopes, externalId = null } = client;
  try {
    await pool.query(
      `insert into clients (client_id, name, scopes, source_key, external_id, secret_sha256, jwks, jwks_url)
       values ($1, $2, $3, $4, $5, $6, $7, $8)`,
      [clientId, name, scopes, sourceKey, externalId, ...proof],
    );
  } catch (error) {
    throw translate(error);
  }
  return clientId;
}

/**
 * Registers a client with a secret, and its source if that is new.
 * Null: a source of that name exists and is attended in another way than said; nothing was added.
 * @throws ExternalIdTaken
 */
export async function addClient(pool: Pool, client: NewClient): Promise<Credentials | null> {
  const clientSecret = makeSecret();
  const clientId = await insertClient(pool, client, [hashSecret(clientSecret), null, null]);
  return clientId === null ? null : { clientId, clientSecret };
}

/** The same for a client that proves itself by keys: its id, and no secret. */
export async function addClientWithKeys(
  pool: Pool,
  client: NewClient,
  keys: ClientKeys,
): Promise<{ clientId: string } | null> {
  const clientId = await insertClient(pool, client, proofOf(keys));
  return clientId === null ? null : { clientId };
}

interface ClientRow {
  client_key: number;
  client_id: string;
  name: string;
  scopes: string[];
  secret_sha256: Buffer | null;
  jwks: { keys: Record<string, unknown>[] } | null;
  jwks_url: string | null;
  external_id: string | null;
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

/** The client that stands for the pages. It is nobody's to prove: only people who signed in act through it. */
export const PAGES_CLIENT_ID = 'pages';

const SELECT_CLIENTS = `
  select c.client_key, c.client_id, c.name, c.scopes, c.secret_sha256, c.jwks, c.jwks_url,
         c.external_id, c.source_key, s.name as source, s.attended, s.second_identifier_required,
         s.synchronised, s.disabled_at is not null as source_disabled,
         c.created_at, c.disabled_at, c.ends_at
    from clients c join sources s using (source_key)`;

function keysOf({ jwks, jwks_url: jwksUrl }: ClientRow): ClientKeys | null {
  if (jwks !== null) return { jwks };
  return jwksUrl === null ? null : { jwksUrl };
}

function toRecord(row: ClientRow): ClientRecord {
  return {
    clientKey: row.client_key,
    clientId: row.client_id,
    name: row.name,
    scopes: row.scopes,
    secretSha256: row.secret_sha256,
    keys: keysOf(row),
    externalId: row.external_id,
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

/** The client that another issuer calls by this name; null when there is none. */
export async function findClientByExternalId(
  pool: Pool,
  externalId: string,
): Promise<ClientRecord | null> {
  const { rows } = await pool.query<ClientRow>({
    name: 'find-client-by-external-id',
    text: `${SELECT_CLIENTS} where c.external_id = $1`,
    values: [externalId],
  });
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** All clients, oldest first. */
export async function listClients(pool: Pool): Promise<ClientRecord[]> {
  const { rows } = await pool.query<ClientRow>(`${SELECT_CLIENTS} order by c.client_key`);
  return rows.map(toRecord);
}

/** Gives the client a new secret; the old one ends at once. Null: no such client, or one without a secret. */
export async function rotateSecret(pool: Pool, clientId: string): Promise<Credentials | null> {
  const clientSecret = makeSecret();
  const { rowCount } = await pool.query(
    'update clients set secret_sha256 = $2 where client_id = $1 and secret_sha256 is not null',
    [clientId, hashSecret(clientSecret)],
  );
  return rowCount === 0 ? null : { clientId, clientSecret };
}

/**
 * Has the client prove itself by these keys from now on: keys or a secret that it had before end at once.
 * False: no such client.
 */
export async function setKeys(pool: Pool, clientId: string, keys: ClientKeys): Promise<boolean> {
  const { rowCount } = await pool.query(
    'update clients set secret_sha256 = $2, jwks = $3, jwks_url = $4 where client_id = $1 and not built_in',
    [clientId, ...proofOf(keys)],
  );
  return rowCount !== 0;
}

/**
 * Says by which name another issuer calls the client; null: by none. False: no such client.
 * @throws ExternalIdTaken
 */
export async function setExternalId(
  pool: Pool,
  clientId: string,
  externalId: string | null,
): Promise<boolean> {
  try {
    const text = 'update clients set external_id = $2 where client_id = $1';
    return (await pool.query(text, [clientId, externalId])).rowCount !== 0;
  } catch (error) {
    throw translate(error);
  }
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
