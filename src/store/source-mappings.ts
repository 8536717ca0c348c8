/** How local codes and unit spellings of a source are read: proposed, tried, put in force, never changed. */
import type { ClientBase, Pool } from 'pg';
import type { MappingProposal, SourceMapping } from '../vitals/source-profile.js';
import { insertAudit } from './audit.js';
import { namedActor } from './editions.js';
import type { Actor, NamedActor } from './editions.js';
import { inTransaction } from './transaction.js';

/** Times in ms since the epoch. */
export interface MappingRecord {
  readonly version: number;
  readonly mapping: SourceMapping;
  /** Why it was proposed. */
  readonly reason: string;
  readonly proposedMs: number;
  readonly proposedBy: NamedActor | null;
  /** When a message was last tried with it; null: never. */
  readonly triedMs: number | null;
  /** When it was last put in force; null: never. */
  readonly inForceMs: number | null;
  readonly inForceBy: NamedActor | null;
  readonly forceReason: string | null;
}

interface MappingRow {
  version: number;
  mapping: SourceMapping;
  reason: string;
  proposed_at: Date;
  proposer: string | null;
  proposer_system: string | null;
  proposer_value: string | null;
  tried_at: Date | null;
  in_force_at: Date | null;
  forcer: string | null;
  forcer_system: string | null;
  forcer_value: string | null;
  force_reason: string | null;
}

const SELECT_MAPPINGS = `
  select m.version, m.mapping, m.reason, m.proposed_at, m.tried_at, m.in_force_at, m.force_reason,
         p.name as proposer, pp.system as proposer_system, pp.value as proposer_value,
         f.name as forcer, fp.system as forcer_system, fp.value as forcer_value
    from source_mappings m
    join sources s using (source_key)
    left join clients p on p.client_key = m.proposed_by
    left join people pp on pp.person_key = m.proposed_by_person
    left join clients f on f.client_key = m.in_force_by
    left join people fp on fp.person_key = m.in_force_by_person`;

function toRecord(row: MappingRow): MappingRecord {
  return {
    version: row.version,
    mapping: row.mapping,
    reason: row.reason,
    proposedMs: row.proposed_at.getTime(),
    proposedBy: namedActor(row.proposer, row.proposer_system, row.proposer_value),
    triedMs: row.tried_at?.getTime() ?? null,
    inForceMs: row.in_force_at?.getTime() ?? null,
    inForceBy: namedActor(row.forcer, row.forcer_system, row.forcer_value),
    forceReason: row.force_reason,
  };
}

/** All mappings of a source, oldest first; null: there is no such source. */
export async function listMappings(pool: Pool, sourceId: string): Promise<MappingRecord[] | null> {
  const { rows } = await pool.query<MappingRow>(
    `${SELECT_MAPPINGS} where s.source_id = $1 order by m.version`,
    [sourceId],
  );
  if (rows.length === 0 && !(await isSource(pool, sourceId))) return null;
  return rows.map(toRecord);
}

async function isSource(pool: Pool, sourceId: string): Promise<boolean> {
  const { rowCount } = await pool.query('select from sources where source_id = $1', [sourceId]);
  return rowCount !== 0;
}

/** Null: there is no such source, or no such mapping of it. */
export async function findMapping(
  client: ClientBase | Pool,
  sourceId: string,
  version: number,
): Promise<MappingRecord | null> {
  const { rows } = await client.query<MappingRow>(
    `${SELECT_MAPPINGS} where s.source_id = $1 and m.version = $2`,
    [sourceId, version],
  );
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** By what the messages of a source were read at some moment. */
export interface MappingThen {
  /** Null: none was in force. */
  readonly inForce: MappingRecord | null;
  /**
   * One was put in force after that moment. Of a mapping the last time alone is kept here, so that which one
   * was in force then is told by the audit trail only.
   */
  readonly changedSince: boolean;
}

/** @param atMs when the message of this submission was read, in ms since the epoch */
export async function findMappingThen(
  pool: Pool,
  submissionId: string,
  atMs: number,
): Promise<MappingThen> {
  const { rows } = await pool.query<MappingRow>(
    `${SELECT_MAPPINGS}
      where m.source_key = (select source_key from submissions where submission_id = $1)
        and m.in_force_at is not null
      order by m.in_force_at desc`,
    [submissionId],
  );
  const forced = rows.map(toRecord);
  const before = forced.filter(({ inForceMs }) => inForceMs !== null && inForceMs <= atMs);
  return { inForce: before[0] ?? null, changedSince: before.length < forced.length };
}

/** Keeps a mapping under the next number of its source; nothing is read by it yet. Null: no such source. */
export async function proposeMapping(
  pool: Pool,
  by: Actor,
  sourceId: string,
  { mapping, reason }: MappingProposal,
  nowMs: number,
): Promise<MappingRecord | null> {
  return inTransaction(pool, async (client) => {
    const sourceKey = await lockSource(client, sourceId);
    if (sourceKey === null) return null;
    const { rows } = await client.query<{ version: number }>(
      `insert into source_mappings (source_key, version, mapping, reason, proposed_at, proposed_by,
                                    proposed_by_person)
       select $1, coalesce(max(version), 0) + 1, $2, $3, $4, $5, $6
         from source_mappings where source_key = $1
       returning version`,
      [
        ...[sourceKey, JSON.stringify(mapping), reason, new Date(nowMs)],
        ...[by.clientKey, by.personKey],
      ],
    );
    const version = rows[0]?.version ?? 0;
    await audit(client, by, 'mapping-propose', 201, sourceId, version, {
      codes: mapping.codes.length,
      units: mapping.units.length,
    });
    return findMapping(client, sourceId, version);
  });
}

/** A message was tried with this mapping. False: there is no such mapping. */
export async function noteMappingTried(
  pool: Pool,
  sourceId: string,
  version: number,
  nowMs: number,
): Promise<boolean> {
  const { rowCount } = await pool.query(
    `update source_mappings m set tried_at = $3 from sources s
      where s.source_key = m.source_key and s.source_id = $1 and m.version = $2`,
    [sourceId, version, new Date(nowMs)],
  );
  return rowCount !== 0;
}

export interface Forcing {
  readonly reason: string;
  /** It may be put in force though nothing was tried with it. */
  readonly untried: boolean;
}

export type ForceOutcome =
  | { readonly outcome: 'done'; readonly mapping: MappingRecord }
  | { readonly outcome: 'unknown' }
  | { readonly outcome: 'untried' };

/**
 * Puts a mapping in force, an old one again too: messages that come from now on are read by it. It must
 * have been tried, or whoever asks must say that it was not.
 */
export async function forceMapping(
  pool: Pool,
  by: Actor,
  sourceId: string,
  version: number,
  forcing: Forcing,
  nowMs: number,
): Promise<ForceOutcome> {
  return inTransaction(pool, async (client) => {
    const sourceKey = await lockSource(client, sourceId);
    const found = sourceKey === null ? null : await findMapping(client, sourceId, version);
    if (found === null) return { outcome: 'unknown' };
    if (found.triedMs === null && !forcing.untried) return { outcome: 'untried' };
    // Later than every other, also where the clocks of two processes differ.
    await client.query(
      `update source_mappings
          set in_force_at = greatest($3::timestamptz, (
                select max(in_force_at) + interval '1 ms' from source_mappings where source_key = $1)),
              in_force_by = $4, force_reason = $5, in_force_by_person = $6
        where source_key = $1 and version = $2`,
      [...[sourceKey, version, new Date(nowMs)], ...[by.clientKey, forcing.reason, by.personKey]],
    );
    await audit(client, by, 'mapping-force', 200, sourceId, version, {
      tried: found.triedMs !== null,
      reason: forcing.reason,
    });
    const mapping = await findMapping(client, sourceId, version);
    return mapping === null ? { outcome: 'unknown' } : { outcome: 'done', mapping };
  });
}

/** One change of a source's mappings after the other. */
async function lockSource(client: ClientBase, sourceId: string): Promise<number | null> {
  const { rows } = await client.query<{ source_key: number }>(
    'select source_key from sources where source_id = $1 for no key update',
    [sourceId],
  );
  return rows[0]?.source_key ?? null;
}

async function audit(
  client: ClientBase,
  by: Actor,
  action: string,
  outcome: number,
  sourceId: string,
  version: number,
  detail: Readonly<Record<string, unknown>>,
): Promise<void> {
  const entity = `sources/${sourceId}/mappings/${version}`;
  await insertAudit(client, [{ ...by, action, outcome, entity, detail }]);
}
