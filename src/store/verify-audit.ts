/** Proving the audit trail: seals, chains, entries, and that no entry is outside of them. */
import type { Pool, PoolClient } from 'pg';
import { firstAuditIdAt } from './audit.js';
import { AuditFault } from './audit-fault.js';
import { verifySeals } from './audit-seals.js';
import { CLEARED_ENTITY } from './clear-audit.js';
import { inTransaction } from './transaction.js';
import { placeOf, timeOf, verifyChains } from './verify-chains.js';
import type { AuditRange, AuditReport } from './verify-chains.js';
import { checkUnchained } from './verify-unchained.js';

const MOST_AT_A_TIME = 2_000;
/** With more of them something is wrong anyway. */
const MOST_UNCHAINED = 10_000;

/** Takes some seconds where entries have yet to be chained. @throws AuditFault at the first fault */
export async function verifyAudit(pool: Pool, range: AuditRange): Promise<AuditReport> {
  const report: AuditReport = {
    ...{ entries: 0, sealedSegments: 0, openSegments: 0, clearedSegments: 0 },
    ...{ found: 0, waiting: 0, lost: [] },
  };
  const unchained = await inTransaction(pool, async (client) => {
    // One look at everything: what is written meanwhile is not half in it.
    await client.query('set transaction isolation level repeatable read, read only');
    await verifySeals(client);
    await verifyCleared(client, range, report);
    await verifyChains(client, range, report);
    report.lost = await listLost(client, range);
    return listUnchained(client, range);
  });
  report.waiting = await checkUnchained(pool, unchained);
  return report;
}

/** Segments without entries: retention must have cleared them. */
async function verifyCleared(
  client: PoolClient,
  { fromMs, toMs }: AuditRange,
  report: AuditReport,
): Promise<void> {
  const { rows } = await client.query<{ writer_id: string; minute: Date; cleared: boolean }>(
    `with cleared as (
       select max((a.detail ->> 'before')::timestamptz) as before
         from audit a join audit_chain c using (audit_id)
        where a.entity = $3 and a.entity not like 'submissions/%' and a.action = 'audit-cleared')
     select w.writer_id, s.minute, coalesce(s.minute < k.before, false) as cleared
       from audit_seals s join audit_writers w using (writer_key), cleared k
      where s.minute >= coalesce($1, '-infinity'::timestamptz)
        and s.minute < coalesce($2, 'infinity'::timestamptz)
        and not exists (select from audit_chain c
                         where c.writer_key = s.writer_key and c.minute = s.minute)
      order by s.seal_number`,
    [timeOf(fromMs), timeOf(toMs), CLEARED_ENTITY],
  );
  const gone = rows.find((row) => !row.cleared);
  if (gone !== undefined) {
    throw new AuditFault(`All entries of ${placeOf(gone.writer_id, gone.minute)} are gone`);
  }
  report.clearedSegments = rows.length;
}

/** Ids of entries that were recorded in the range lie between these. */
function idBounds({ fromMs, toMs }: AuditRange): [string, string] {
  const end = toMs === null ? LAST_ID : firstAuditIdAt(toMs);
  return [firstAuditIdAt(fromMs ?? 0), end];
}

const LAST_ID = 'ffffffff-ffff-ffff-ffff-ffffffffffff';

async function listLost(client: PoolClient, range: AuditRange): Promise<AuditReport['lost']> {
  const { rows } = await client.query<{ writer_id: string; seen: string }>(
    `select w.writer_id, a.detail ->> 'lastSeen' as seen
       from audit_writers w
       join audit a on a.entity = 'processes/' || w.writer_id and a.entity not like 'submissions/%'
      where a.action = 'process-lost' and a.audit_id between $1 and $2
      order by a.audit_id`,
    idBounds(range),
  );
  return rows.map(({ writer_id: writerId, seen }) => ({ writerId, seen }));
}

/** Entries of the range that are in no chain. */
async function listUnchained(client: PoolClient, range: AuditRange): Promise<readonly string[]> {
  const unchained: string[] = [];
  let [after] = idBounds(range);
  const [, end] = idBounds(range);
  for (;;) {
    const { rows } = await client.query<{ audit_id: string; chained: boolean }>(
      `select a.audit_id, c.audit_id is not null as chained
         from (select audit_id from audit where audit_id > $1 and audit_id <= $2
                order by audit_id limit ${MOST_AT_A_TIME}) a
         left join audit_chain c on c.audit_id = a.audit_id
        order by a.audit_id`,
      [after, end],
    );
    unchained.push(...rows.filter((row) => !row.chained).map((row) => row.audit_id));
    const last = rows.at(-1);
    if (last === undefined || unchained.length > MOST_UNCHAINED) return unchained;
    after = last.audit_id;
  }
}
