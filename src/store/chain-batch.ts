/** One batch of entries added to the chain of a process, in one transaction. */
import type { ClientBase } from 'pg';
import { insertAuditRecords } from './audit.js';
import {
  addLinks,
  findUnchained,
  isOver,
  newSegment,
  readChainEnd,
  sealSegment,
} from './audit-chaining.js';
import type { ChainEnd, Writer } from './audit-chaining.js';
import type { AuditRecord, Seal } from './audit-hashes.js';
import { lockWriter, markSeen } from './audit-writers.js';

/** Entries that one batch takes up from the database. */
const MOST_FOUND = 2_000;

export interface Batch {
  /** On disk already: the entries of acts. */
  readonly acts: readonly AuditRecord[];
  /** To be written. */
  readonly looks: readonly AuditRecord[];
  /** There may be entries of this process on disk that are not among the acts. */
  readonly inDoubt: boolean;
  /** The process ends: its chain is sealed. */
  readonly last: boolean;
}

export interface Chained {
  readonly end: ChainEnd;
  readonly seal: Seal | null;
}

/**
 * Writes and chains a batch. `end` is where the chain of the process ended when it last wrote; null: it does
 * not know, because a commit failed: then some of the batch may be done already, and is left out.
 */
export async function chainBatch(
  client: ClientBase,
  writer: Writer,
  end: ChainEnd | null,
  batch: Batch,
): Promise<Chained> {
  const { nowMs, closed } = await lockWriter(client, writer);
  // Another process took this one for lost, and ended its chain: it goes on after that.
  const known = closed ? null : end;
  const done = known === null ? await findChained(client, batch) : new Set<string>();
  const isNew = ({ audit_id: id }: AuditRecord): boolean => !done.has(id);
  const looks = batch.looks.filter(isNew);
  await insertAuditRecords(client, looks);
  const acts = batch.acts.filter(isNew);
  const found = batch.inDoubt ? await findForgotten(client, writer, [...acts, ...looks]) : [];
  const links = [
    ...[...acts, ...looks].map((record) => ({ record, found: false })),
    ...found.map((record) => ({ record, found: true })),
  ];
  const from = known ?? (await readChainEnd(client, writer, nowMs));
  const over = isOver(from, nowMs);
  const seal = over ? await sealSegment(client, writer, from, nowMs) : null;
  const start = over ? newSegment(writer, nowMs, from.minuteMs) : from;
  const next = await addLinks(client, writer, start, links);
  const lastSeal = batch.last ? await sealSegment(client, writer, next, nowMs) : null;
  await markSeen(client, writer, nowMs, batch.last);
  return { end: next, seal: lastSeal ?? seal };
}

/** The entries of a batch that an earlier attempt, or another process, has chained. */
async function findChained(client: ClientBase, { acts, looks }: Batch): Promise<Set<string>> {
  const { rows } = await client.query<{ audit_id: string }>(
    'select audit_id from audit_chain where audit_id = any($1::uuid[])',
    [[...acts, ...looks].map((record) => record.audit_id)],
  );
  return new Set(rows.map((row) => row.audit_id));
}

async function findForgotten(
  client: ClientBase,
  writer: Writer,
  known: readonly AuditRecord[],
): Promise<AuditRecord[]> {
  const ids = new Set(known.map((record) => record.audit_id));
  const found = await findUnchained(client, writer, MOST_FOUND);
  return found.filter((record) => !ids.has(record.audit_id));
}
