/** Held readings that go out as preliminary although nobody has decided. */
import type { ClientBase, Pool } from 'pg';
import type { Finding, JudgedSet } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import { takeStamp } from './publication-clock.js';
import {
  insertNextVersions,
  keptFinding,
  loadRecords,
  markSetsChanged,
} from './reading-records.js';
import { submissionOf } from './reading-rows.js';
import { inTransaction } from './transaction.js';

/** Readings that one run publishes at most; the next follows at once. */
const MAX_A_RUN = 200;

function published(record: Record<string, unknown>, cause?: Finding): Record<string, unknown> {
  const findings = (record.findings ?? []) as Finding[];
  return {
    ...record,
    status: 'preliminary',
    hold_until: null,
    findings: cause === undefined ? record.findings : [...findings, keptFinding(cause)],
  };
}

/** The earlier readings that a judged set sends out, each with the finding that says why. */
export function publicationCauses(judged: JudgedSet): Map<string, Finding> {
  const causes = new Map<string, Finding>();
  for (const id of judged.publishEarlier) {
    const cause = judged.findings.find((finding) => finding.earlier?.includes(id) === true);
    if (cause !== undefined) causes.set(id, cause);
  }
  return causes;
}

/** Held, unpublished readings that a critical value contradicts: out at once, with that finding's words. */
export async function publishHeldEarlier(
  client: ClientBase,
  causes: ReadonlyMap<string, Finding>,
  stampMs: number,
): Promise<void> {
  if (causes.size === 0) return;
  const records = await loadRecords(client, [...causes.keys()]);
  const held = records.filter((record) => record.hold !== null && record.status === null);
  await insertNextVersions(
    client,
    held.map((record) => published(record, causes.get(String(record.reading_id)))),
    stampMs,
  );
  await markSetsChanged(
    client,
    held.map((record) => submissionOf(String(record.reading_id))),
    stampMs,
  );
}

/**
 * Publishes holds whose deadline has passed by the database's clock; the hold itself stays for review.
 * Any number of processes may run it: each takes readings that no other is at work on.
 * @returns how many went out
 */
export async function publishOverdueHolds(pool: Pool): Promise<number> {
  return inTransaction(pool, async (client) => {
    const due = await client.query<{ reading_id: string }>(
      `select reading_id from readings
        where hold is not null and superseded is null and hold_until <= clock_timestamp()
        order by hold_until limit ${MAX_A_RUN} for update skip locked`,
    );
    if (due.rows.length === 0) return 0;
    const records = await loadRecords(
      client,
      due.rows.map((row) => row.reading_id),
    );
    await insertAudit(
      client,
      records.map((record) => ({
        clientKey: null,
        action: 'hold-deadline',
        outcome: 200,
        entity: `readings/${String(record.reading_id)}`,
      })),
    );
    const stampMs = await takeStamp(client);
    await insertNextVersions(
      client,
      records.map((record) => published(record)),
      stampMs,
    );
    await markSetsChanged(
      client,
      records.map((record) => submissionOf(String(record.reading_id))),
      stampMs,
    );
    return records.length;
  });
}
