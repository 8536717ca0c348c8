/** Registered senders: who they are, how their messages are known, and what is assumed of their times and numbers. */
import type { ClientBase, Pool } from 'pg';
import { insertAudit } from './audit.js';
import type { Actor } from './editions.js';
import { inTransaction } from './transaction.js';

/** What is registered of a source, as somebody may change it. */
export interface SourceSettings {
  readonly name: string;
  /** A person stands by each reading. */
  readonly attended: boolean;
  readonly secondIdentifierRequired: boolean;
  /** IANA zone of its times without an offset; null: such times are held. */
  readonly zone: string | null;
  /** Its clock is kept by a time service. */
  readonly synchronised: boolean;
  /** HL7 v2 MSH-3 of its messages; null: it sends none, or whatever comes with its certificate. */
  readonly application: string | null;
  /** MSH-4; null: any. */
  readonly facility: string | null;
  /** SHA-256 of the DER client certificate, 64 small hex digits. */
  readonly certificateSha256: string | null;
  /** Identifier system of patient identifiers without an assigning authority. */
  readonly defaultAuthority: string | null;
  /** Identifier systems by the name of the assigning authority. */
  readonly authorities: Readonly<Record<string, string>>;
}

/** Times in ms since the epoch. */
export interface SourceRecord extends SourceSettings {
  readonly sourceKey: number;
  readonly sourceId: string;
  /** It came with the gateway: name, attendance and peer stay as they are. */
  readonly builtIn: boolean;
  readonly createdAtMs: number;
  readonly disabledAtMs: number | null;
}

/** What two sources cannot share, and the name of the source that has it. */
export interface SourceConflict {
  readonly of: 'name' | 'peer' | 'certificate';
  readonly source: string;
}

export type SourceOutcome =
  | { readonly outcome: 'done'; readonly source: SourceRecord }
  | { readonly outcome: 'conflict'; readonly conflicts: readonly SourceConflict[] }
  | { readonly outcome: 'unknown' | 'built-in' };

interface SourceRow {
  source_key: number;
  source_id: string;
  name: string;
  attended: boolean;
  second_identifier_required: boolean;
  zone: string | null;
  synchronised: boolean;
  application: string | null;
  facility: string | null;
  certificate: string | null;
  default_authority: string | null;
  authorities: Record<string, string> | null;
  built_in: boolean;
  created_at: Date;
  disabled_at: Date | null;
}

const SELECT_SOURCES = `
  select source_key, source_id, name, attended, second_identifier_required, zone, synchronised,
         application, facility, encode(certificate_sha256, 'hex') as certificate, default_authority,
         authorities, built_in, created_at, disabled_at
    from sources`;

function toRecord(row: SourceRow): SourceRecord {
  return {
    sourceKey: row.source_key,
    sourceId: row.source_id,
    name: row.name,
    attended: row.attended,
    secondIdentifierRequired: row.second_identifier_required,
    zone: row.zone,
    synchronised: row.synchronised,
    application: row.application,
    facility: row.facility,
    certificateSha256: row.certificate,
    defaultAuthority: row.default_authority,
    authorities: row.authorities ?? {},
    builtIn: row.built_in,
    createdAtMs: row.created_at.getTime(),
    disabledAtMs: row.disabled_at?.getTime() ?? null,
  };
}

/** All sources, oldest first. */
export async function listSources(pool: Pool): Promise<SourceRecord[]> {
  const { rows } = await pool.query<SourceRow>({
    name: 'list-sources',
    text: `${SELECT_SOURCES} order by source_key`,
  });
  return rows.map(toRecord);
}

/** Null: there is no such source. */
export async function findSource(
  client: ClientBase | Pool,
  sourceId: string,
): Promise<SourceRecord | null> {
  const { rows } = await client.query<SourceRow>(`${SELECT_SOURCES} where source_id = $1`, [
    sourceId,
  ]);
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** Registers a source, unless it would share with another what tells them apart. */
export async function addSource(
  pool: Pool,
  by: Actor,
  settings: SourceSettings,
): Promise<SourceOutcome> {
  return inTransaction(pool, async (client) => {
    await lockSources(client);
    const conflicts = await findConflicts(client, settings, null);
    if (conflicts.length > 0) return { outcome: 'conflict', conflicts };
    const { rows } = await client.query<{ source_id: string }>(
      `insert into sources (name, attended, second_identifier_required, zone, synchronised, application,
                            facility, certificate_sha256, default_authority, authorities)
       values ($1, $2, $3, $4, $5, $6, $7, decode($8, 'hex'), $9, $10) returning source_id`,
      valuesOf(settings),
    );
    return settle(client, by, rows[0]?.source_id ?? '', 'source-add', {});
  });
}

/** Puts these settings in the place of a source's old ones. */
export async function changeSource(
  pool: Pool,
  by: Actor,
  sourceId: string,
  settings: SourceSettings,
): Promise<SourceOutcome> {
  return inTransaction(pool, async (client) => {
    await lockSources(client);
    const before = await findSource(client, sourceId);
    if (before === null) return { outcome: 'unknown' };
    const changed = changedMembers(before, settings);
    if (before.builtIn && changed.some((member) => FIXED.has(member))) {
      return { outcome: 'built-in' };
    }
    const conflicts = await findConflicts(client, settings, before.sourceKey);
    if (conflicts.length > 0) return { outcome: 'conflict', conflicts };
    await client.query(
      `update sources set name = $1, attended = $2, second_identifier_required = $3, zone = $4,
              synchronised = $5, application = $6, facility = $7, certificate_sha256 = decode($8, 'hex'),
              default_authority = $9, authorities = $10
        where source_key = $11`,
      [...valuesOf(settings), before.sourceKey],
    );
    return settle(client, by, sourceId, 'source-change', { changed });
  });
}

/** Disables a source (null: enables it again). One disabled before keeps its first time. */
export async function setSourceDisabled(
  pool: Pool,
  by: Actor,
  sourceId: string,
  disabledAtMs: number | null,
): Promise<SourceOutcome> {
  return inTransaction(pool, async (client) => {
    const { rowCount } = await client.query(
      `update sources set disabled_at = case when $2::timestamptz is null then null
                                             else coalesce(disabled_at, $2) end
        where source_id = $1`,
      [sourceId, disabledAtMs === null ? null : new Date(disabledAtMs)],
    );
    if (rowCount === 0) return { outcome: 'unknown' };
    const action = disabledAtMs === null ? 'source-enable' : 'source-disable';
    return settle(client, by, sourceId, action, {});
  });
}

/** One change after the other, so that each sees all names that are taken. Nobody who reads waits. */
async function lockSources(client: ClientBase): Promise<void> {
  await client.query('lock table sources in share row exclusive mode');
}

async function findConflicts(
  client: ClientBase,
  { name, application, facility, certificateSha256 }: SourceSettings,
  ownKey: number | null,
): Promise<SourceConflict[]> {
  const { rows } = await client.query<{
    source: string;
    name: boolean;
    peer: boolean | null;
    certificate: boolean | null;
  }>(
    `select name as source, name = $1 as name,
            application = $2 and coalesce(facility, '') = coalesce($3, '') as peer,
            certificate_sha256 = decode($4, 'hex') as certificate
       from sources
      where source_key is distinct from $5
        and (name = $1 or application = $2 or certificate_sha256 = decode($4, 'hex'))
      order by source_key`,
    [name, application, facility, certificateSha256, ownKey],
  );
  return rows.flatMap((row) =>
    (['name', 'peer', 'certificate'] as const)
      .filter((of) => row[of] === true)
      .map((of) => ({ of, source: row.source })),
  );
}

function valuesOf(settings: SourceSettings): unknown[] {
  return [
    settings.name,
    settings.attended,
    settings.secondIdentifierRequired,
    settings.zone,
    settings.synchronised,
    settings.application,
    settings.facility,
    settings.certificateSha256,
    settings.defaultAuthority,
    settings.authorities,
  ];
}

/** Settings of a built-in source that nobody changes: by them it is what it is. */
const FIXED: ReadonlySet<string> = new Set<keyof SourceSettings>([
  'name',
  'attended',
  'application',
  'facility',
  'certificateSha256',
]);

/** The names of what differs; never what it was or is: authorities and names of systems stay out of the trail. */
function changedMembers(before: SourceSettings, after: SourceSettings): string[] {
  const written = (value: unknown): string =>
    JSON.stringify(
      typeof value === 'object' && value !== null ? Object.entries(value).sort() : value,
    );
  return (Object.keys(after) as (keyof SourceSettings)[]).filter(
    (member) => written(before[member]) !== written(after[member]),
  );
}

async function settle(
  client: ClientBase,
  by: Actor,
  sourceId: string,
  action: string,
  detail: Readonly<Record<string, unknown>>,
): Promise<SourceOutcome> {
  const outcome = action === 'source-add' ? 201 : 200;
  await insertAudit(client, [{ ...by, action, outcome, entity: `sources/${sourceId}`, detail }]);
  const source = await findSource(client, sourceId);
  if (source === null) throw new Error('a source has vanished');
  return { outcome: 'done', source };
}
