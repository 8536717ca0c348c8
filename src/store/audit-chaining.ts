/** Adding entries to the chain of a writer, and sealing its segments. Every step runs under the lock of the writer's row. */
import type { ClientBase } from 'pg';
import { AUDIT_RECORD_COLUMNS, firstAuditIdAt, toAuditRecord } from './audit.js';
import type { AuditRow } from './audit.js';
import { BEFORE_SEALS, linkHash, sealHash, segmentStart } from './audit-hashes.js';
import type { AuditRecord, Seal } from './audit-hashes.js';
import { insertRecords } from './insert-records.js';
import type { Columns } from './insert-records.js';
import { lockSeals } from './locks.js';

const MINUTE_MS = 60_000;
/** No transaction takes longer from the making of an entry to its commit. */
const SLOWEST_ACT_MS = 10 * MINUTE_MS;

export interface Writer {
  readonly key: number;
  readonly id: string;
}

/** The segment that a writer adds to, and its last entry; number 0: it has none yet. */
export interface ChainEnd {
  readonly minuteMs: number;
  readonly number: number;
  readonly hash: Buffer;
}

/** An entry to be chained. */
export interface Link {
  readonly record: AuditRecord;
  /** It is chained as it lay in the database, not as this process wrote it. */
  readonly found: boolean;
}

const LINK_COLUMNS: Columns = [
  ['writer_key', 'integer'],
  ['minute', 'timestamptz'],
  ['number', 'integer'],
  ['audit_id', 'uuid'],
  ['found', 'boolean'],
  ['hash', 'bytea'],
];

const hex = (bytes: Buffer): string => `\\x${bytes.toString('hex')}`;

/** The start of the minute that a moment lies in. */
function minuteOf(epochMs: number): number {
  return Math.floor(epochMs / MINUTE_MS) * MINUTE_MS;
}

/** An empty segment for a moment; later than `after`, where one is sealed already. */
export function newSegment(writer: Writer, nowMs: number, after?: number): ChainEnd {
  const minuteMs = Math.max(minuteOf(nowMs), after === undefined ? 0 : after + MINUTE_MS);
  return { minuteMs, number: 0, hash: segmentStart(writer.id, minuteMs) };
}

/** Whether the minute of a segment is over. */
export function isOver({ minuteMs }: ChainEnd, nowMs: number): boolean {
  return nowMs >= minuteMs + MINUTE_MS;
}

/** The end of a writer's chain as it lies in the database. */
export async function readChainEnd(
  client: ClientBase,
  writer: Writer,
  nowMs: number,
): Promise<ChainEnd> {
  const { rows } = await client.query<{
    minute: Date;
    number: number;
    hash: Buffer;
    sealed: boolean;
  }>(
    `select c.minute, c.number, c.hash, s.seal_number is not null as sealed
       from audit_chain c
       left join audit_seals s on s.writer_key = c.writer_key and s.minute = c.minute
      where c.writer_key = $1 order by c.minute desc, c.number desc limit 1`,
    [writer.key],
  );
  const last = rows[0];
  if (last === undefined) return newSegment(writer, nowMs, await lastSealedMinute(client, writer));
  const minuteMs = last.minute.getTime();
  if (last.sealed) return newSegment(writer, nowMs, minuteMs);
  return { minuteMs, number: last.number, hash: last.hash };
}

async function lastSealedMinute(client: ClientBase, { key }: Writer): Promise<number | undefined> {
  const { rows } = await client.query<{ minute: Date | null }>(
    'select max(minute) as minute from audit_seals where writer_key = $1',
    [key],
  );
  return rows[0]?.minute?.getTime();
}

/** Chains entries to the end of a segment; the new end. */
export async function addLinks(
  client: ClientBase,
  writer: Writer,
  end: ChainEnd,
  links: readonly Link[],
): Promise<ChainEnd> {
  let { number, hash } = end;
  const minute = new Date(end.minuteMs).toISOString();
  const rows = links.map(({ record, found }) => {
    number += 1;
    hash = linkHash(hash, number, found, record);
    const place = { writer_key: writer.key, minute, number };
    return { ...place, audit_id: record.audit_id, found, hash: hex(hash) };
  });
  await insertRecords(client, 'audit_chain', LINK_COLUMNS, rows);
  return { ...end, number, hash };
}

/** Seals a segment with what it has; an empty one leaves nothing behind. */
export async function sealSegment(
  client: ClientBase,
  writer: Writer,
  end: ChainEnd,
  nowMs: number,
): Promise<Seal | null> {
  if (end.number === 0) return null;
  await lockSeals(client);
  const { rows } = await client.query<{ seal_number: number; hash: Buffer }>(
    'select seal_number, hash from audit_seals order by seal_number desc limit 1',
  );
  const seal: Seal = {
    number: (rows[0]?.seal_number ?? 0) + 1,
    writerId: writer.id,
    minuteMs: end.minuteMs,
    entries: end.number,
    lastHash: end.hash,
    sealedMs: nowMs,
  };
  const hash = sealHash(rows[0]?.hash ?? BEFORE_SEALS, seal);
  await client.query(
    `insert into audit_seals (seal_number, writer_key, minute, entries, last_hash, sealed_at, hash)
     values ($1, $2, $3, $4, $5, $6, $7)`,
    [
      ...[seal.number, writer.key, new Date(seal.minuteMs), seal.entries, seal.lastHash],
      ...[new Date(nowMs), hash],
    ],
  );
  return seal;
}

/**
 * Entries of a writer that are in no chain, the oldest first. Looked at is what was recorded since a
 * little before its last seal: what is older was chained then, or was never its own.
 */
export async function findUnchained(
  client: ClientBase,
  { key }: Writer,
  limit: number,
): Promise<AuditRecord[]> {
  const { rows: sinces } = await client.query<{ since: Date }>(
    `select coalesce((select max(s.minute) from audit_seals s where s.writer_key = w.writer_key),
                     w.started_at) as since
       from audit_writers w where w.writer_key = $1`,
    [key],
  );
  const sinceMs = sinces[0]?.since.getTime() ?? 0;
  const { rows } = await client.query<AuditRow>(
    `select ${AUDIT_RECORD_COLUMNS} from audit a
      where a.writer_key = $1 and a.audit_id >= $2
        and not exists (select from audit_chain c where c.audit_id = a.audit_id)
      order by a.audit_id limit $3`,
    [key, firstAuditIdAt(sinceMs - SLOWEST_ACT_MS), limit],
  );
  return rows.map(toAuditRecord);
}
