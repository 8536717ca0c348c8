/** Held readings that go out although nobody has decided: as preliminary, or because a repeat agrees with them. */
import type { ClientBase, Pool } from 'pg';
import type { Finding, JudgedSet } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import { followPanels } from './follow-panels.js';
import { takeStamp } from './publication-clock.js';
import {
  insertNextVersions,
  keptFinding,
  loadRecords,
  markSetsChanged,
} from './reading-records.js';
import { submissionOf } from './reading-rows.js';
import { resolutionAudit, resolvedRecord } from './resolve-held.js';
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

/** The earlier readings that a judged set sends out or releases, each with the finding that says why. */
export function publicationCauses(judged: JudgedSet): Map<string, Finding> {
  const causes = new Map<string, Finding>();
  for (const id of judged.publishEarlier) {
    const cause = judged.findings.find((finding) => finding.earlier?.includes(id) === true);
    if (cause !== undefined) causes.set(id, cause);
  }
  for (const { readingId, finding } of judged.resolved) causes.set(readingId, finding);
  return causes;
}

/**
 * What a judged set does to held readings of earlier commits, with the finding's words: those that a
 * critical value contradicts go out as preliminary, those that a repeat agrees with are released.
 */
export async function publishHeldEarlier(
  client: ClientBase,
  causes: ReadonlyMap<string, Finding>,
  stampMs: number,
): Promise<void> {
  if (causes.size === 0) return;
  const records = await loadRecords(client, [...causes.keys()]);
  const attended = await attendedSources(client, records);
  const next: Record<string, unknown>[] = [];
  const released: Record<string, unknown>[] = [];
  for (const record of records) {
    const id = String(record.reading_id);
    const cause = causes.get(id);
    if (record.hold !== 'value' || cause === undefined) continue;
    if (cause.releases?.includes(id) === true) {
      released.push(record);
      next.push(resolvedRecord(record, cause, attended.has(Number(record.source_key))));
    } else if (record.status === null) next.push(published(record, cause));
  }
  await insertNextVersions(client, next, stampMs);
  await insertAudit(client, released.map(resolutionAudit));
  await markSetsChanged(
    client,
    next.map((record) => submissionOf(String(record.reading_id))),
    stampMs,
  );
}

async function attendedSources(
  client: ClientBase,
  records: readonly Record<string, unknown>[],
): Promise<ReadonlySet<number>> {
  const { rows } = await client.query<{ source_key: number }>({
    name: 'attended-sources',
    text: 'select source_key from sources where source_key = any($1::int[]) and attended',
    values: [records.map((record) => record.source_key)],
  });
  return new Set(rows.map((row) => row.source_key));
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
        ...{ clientKey: null, patientKey: Number(record.patient_key) },
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
    await followPanels(client, stampMs);
    return records.length;
  });
}
