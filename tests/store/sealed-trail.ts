/** An audit trail of some minutes and two processes, built by the steps that build it in earnest, and what may be done to it. */
import { randomUUID } from 'node:crypto';
import { insertAuditRecords, toRecord } from '../../src/store/audit.js';
import { addLinks, newSegment, sealSegment } from '../../src/store/audit-chaining.js';
import type { Writer } from '../../src/store/audit-chaining.js';
import type { Pool } from '../../src/store/pool.js';
import { inTransaction } from '../../src/store/transaction.js';

const MINUTE_MS = 60_000;
export const FIRST_MINUTE_MS = Date.UTC(2026, 2, 1, 8, 0);

const TABLES = ['audit_writers', 'audit', 'audit_chain', 'audit_seals'] as const;

async function addWriter(pool: Pool): Promise<Writer> {
  const id = randomUUID();
  const { rows } = await pool.query<{ key: number }>(
    `insert into audit_writers (writer_id, started_at, seen_at, closed_at)
     values ($1, $2, $2, $2) returning writer_key as key`,
    [id, new Date(FIRST_MINUTE_MS)],
  );
  return { key: rows[0]?.key ?? 0, id };
}

/** Two processes, three minutes each, `perMinute` entries a minute; all sealed, both processes ended. */
export async function buildTrail(pool: Pool, perMinute: number): Promise<void> {
  const writers = [await addWriter(pool), await addWriter(pool)];
  for (let minute = 0; minute < 3; minute += 1) {
    for (const writer of writers) {
      const nowMs = FIRST_MINUTE_MS + minute * MINUTE_MS + 1_000;
      await inTransaction(pool, async (client) => {
        const records = Array.from({ length: perMinute }, (_, n) =>
          toRecord(
            {
              at: new Date(nowMs),
              clientKey: n % 3 === 0 ? null : n,
              action: n % 2 === 0 ? 'fhir-read' : 'set-received',
              outcome: 200 + n,
              entity: `Observation/${randomUUID()}`,
              origin: { requestId: randomUUID(), address: '192.0.2.7' },
              detail: n % 4 === 0 ? { z: 1.5, a: ['ä', null], m: { b: true, a: 'x' } } : undefined,
            },
            writer.key,
          ),
        );
        await insertAuditRecords(client, records);
        const links = records.map((record) => ({ record, found: false }));
        const end = await addLinks(client, writer, newSegment(writer, nowMs), links);
        await sealSegment(client, writer, end, nowMs + MINUTE_MS);
      });
    }
  }
}

/** Lets an intruder at the tables who owns the schema: the triggers are gone. */
export async function letIntruderIn(pool: Pool): Promise<void> {
  for (const table of TABLES) await pool.query(`alter table ${table} disable trigger user`);
  for (const table of TABLES) await pool.query(`create table saved_${table} as table ${table}`);
}

/** The trail as it was before the intruder. */
export async function restoreTrail(pool: Pool): Promise<void> {
  await pool.query('truncate audit_chain, audit_seals, audit');
  for (const table of TABLES.slice(1)) {
    await pool.query(`insert into ${table} select * from saved_${table}`);
  }
}
