/** The chains of the audit trail, entry by entry. */
import type { PoolClient } from 'pg';
import { AUDIT_RECORD_COLUMNS, toAuditRecord } from './audit.js';
import type { AuditRow } from './audit.js';
import { AuditFault } from './audit-fault.js';
import { linkHash, segmentStart } from './audit-hashes.js';

/** Minutes from (inclusive) to (exclusive), in ms since the epoch; null: without end. */
export interface AuditRange {
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

export interface AuditReport {
  entries: number;
  sealedSegments: number;
  openSegments: number;
  clearedSegments: number;
  /** Entries that were chained as they lay in the database. */
  found: number;
  /** Entries of a process that was killed, which the next process will chain. */
  waiting: number;
  /** Processes that ended without a word, and when they were last heard of. */
  lost: { readonly writerId: string; readonly seen: string }[];
}

const MOST_AT_A_TIME = 2_000;

export function timeOf(epochMs: number | null): Date | null {
  return epochMs === null ? null : new Date(epochMs);
}

export function placeOf(writerId: string, minute: Date): string {
  return `minute ${minute.toISOString()} of process ${writerId}`;
}

interface LinkRow extends Omit<AuditRow, 'audit_id'> {
  link_writer_key: number;
  writer_id: string;
  closed: boolean;
  minute: Date;
  number: number;
  linked_id: string;
  audit_id: string | null;
  found: boolean;
  hash: Buffer;
  seal_entries: number | null;
  seal_last_hash: Buffer | null;
}

const LINKS = `
  select c.writer_key as link_writer_key, w.writer_id, w.closed_at is not null as closed, c.minute, c.number,
         c.audit_id as linked_id, c.found, c.hash, ${AUDIT_RECORD_COLUMNS},
         s.entries as seal_entries, s.last_hash as seal_last_hash
    from audit_chain c
    join audit_writers w on w.writer_key = c.writer_key
    left join audit a on a.audit_id = c.audit_id
    left join audit_seals s on s.writer_key = c.writer_key and s.minute = c.minute
   where (c.writer_key, c.minute, c.number) > ($1, $2, $3)
     and c.minute >= coalesce($4, '-infinity'::timestamptz)
     and c.minute < coalesce($5, 'infinity'::timestamptz)
   order by c.writer_key, c.minute, c.number limit ${MOST_AT_A_TIME}`;

async function readLinks(
  client: PoolClient,
  before: LinkRow | null,
  { fromMs, toMs }: AuditRange,
): Promise<LinkRow[]> {
  const after =
    before === null ? [0, '-infinity', 0] : [before.link_writer_key, before.minute, before.number];
  const { rows } = await client.query<LinkRow>(LINKS, [...after, timeOf(fromMs), timeOf(toMs)]);
  return rows;
}

/** Every chain of the range, entry by entry. */
export async function verifyChains(
  client: PoolClient,
  range: AuditRange,
  report: AuditReport,
): Promise<void> {
  let before: LinkRow | null = null;
  for (;;) {
    const rows = await readLinks(client, before, range);
    for (const row of rows) {
      const isFirst = before === null || !isSameSegment(before, row);
      if (before !== null && isFirst) endSegment(before, row, report);
      verifyLink(isFirst ? null : before, row);
      report.entries += 1;
      if (row.found) report.found += 1;
      before = row;
    }
    if (rows.length < MOST_AT_A_TIME) break;
  }
  if (before !== null) endSegment(before, null, report);
}

function isSameSegment(a: LinkRow, b: LinkRow): boolean {
  return a.link_writer_key === b.link_writer_key && a.minute.getTime() === b.minute.getTime();
}

function verifyLink(before: LinkRow | null, row: LinkRow): void {
  const place = placeOf(row.writer_id, row.minute);
  const number = (before?.number ?? 0) + 1;
  if (row.number !== number) throw new AuditFault(`Entry ${number} of ${place} is gone`);
  const { audit_id: auditId } = row;
  if (auditId === null) {
    throw new AuditFault(`Entry ${row.linked_id} is gone, number ${number} of ${place}`);
  }
  const start = before?.hash ?? segmentStart(row.writer_id, row.minute.getTime());
  const record = toAuditRecord({ ...row, audit_id: auditId });
  if (!linkHash(start, number, row.found, record).equals(row.hash)) {
    throw new AuditFault(
      `Entry ${auditId} is not what was chained as number ${number} of ${place}`,
    );
  }
}

/** What a segment must be at its end; `next` is the first entry of the one that follows. */
function endSegment(last: LinkRow, next: LinkRow | null, report: AuditReport): void {
  const place = placeOf(last.writer_id, last.minute);
  const { seal_entries: entries, seal_last_hash: hash } = last;
  if (entries === null || hash === null) {
    if (last.closed || next?.link_writer_key === last.link_writer_key) {
      throw new AuditFault(`The seal of ${place} is gone; its last entry is ${last.linked_id}`);
    }
    report.openSegments += 1;
    return;
  }
  if (last.number < entries) throw new AuditFault(`Entry ${last.number + 1} of ${place} is gone`);
  if (last.number > entries || !hash.equals(last.hash)) {
    throw new AuditFault(`Entry ${last.linked_id} is not under the seal of ${place}`);
  }
  report.sealedSegments += 1;
}
