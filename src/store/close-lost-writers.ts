/** Ending the chains of processes that were killed: any other process does it, under the lock of their rows. */
import type { Pool, PoolClient } from 'pg';
import { insertAuditRecords, toRecord } from './audit.js';
import {
  addLinks,
  findUnchained,
  newSegment,
  readChainEnd,
  sealSegment,
} from './audit-chaining.js';
import type { Writer } from './audit-chaining.js';
import type { Seal } from './audit-hashes.js';
import { lockLostWriter, markSeen } from './audit-writers.js';
import { inTransaction } from './transaction.js';

/** Entries chained in one go; what is left over follows in the next. */
const MOST_FOUND = 2_000;

/**
 * Ends the chain of one process that has been silent for so long: entries of acts that it had committed and
 * not chained are chained as they lie there, an entry says that it was lost, and its segments are sealed.
 *
 * @returns the seals; null when there is no such process
 */
export async function closeLostWriter(
  pool: Pool,
  ownKey: number,
  silentMs: number,
): Promise<Seal[] | null> {
  return inTransaction(pool, async (client) => {
    const lost = await lockLostWriter(client, ownKey, silentMs);
    if (lost === null) return null;
    const { nowMs, seenMs } = lost;
    const end = await readChainEnd(client, lost, nowMs);
    const seals = [await sealSegment(client, lost, end, nowMs)];
    const found = await findUnchained(client, lost, MOST_FOUND);
    const isWhole = found.length < MOST_FOUND;
    // What was written before there were chains was no process, and none was lost.
    const farewell = isWhole && seenMs !== null ? [await writeFarewell(client, lost, seenMs)] : [];
    const links = [
      ...found.map((record) => ({ record, found: true })),
      ...farewell.map((record) => ({ record, found: false })),
    ];
    const next = newSegment(lost, nowMs, end.minuteMs);
    const added = await addLinks(client, lost, next, links);
    seals.push(await sealSegment(client, lost, added, nowMs));
    // With more to find it stays open, and as silent as it was.
    await markSeen(client, lost, isWhole ? nowMs : (seenMs ?? 0), isWhole);
    return seals.filter((seal) => seal !== null);
  });
}

async function writeFarewell(client: PoolClient, lost: Writer, seenMs: number) {
  const detail = { lastSeen: new Date(seenMs).toISOString() };
  const entry = { clientKey: null, action: 'process-lost', outcome: 500 };
  const record = toRecord({ ...entry, entity: `processes/${lost.id}`, detail }, lost.key);
  await insertAuditRecords(client, [record]);
  return record;
}
