/** A site that has an audit trail from before there were chains. */
import { cpSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { AuditTrail } from '../../src/store/audit-trail.js';
import { migrate } from '../../src/store/migrate.js';
import { Names } from '../../src/store/names.js';
import { openPool } from '../../src/store/pool.js';
import { verifyAudit } from '../../src/store/verify-audit.js';
import { openEmptyDatabase } from '../setup/database.js';

const SCHEMA = 'older_site';

it('keeps older entries in their order, and the first process chains them as found', async () => {
  const database = await openEmptyDatabase();
  const folder = mkdtempSync(join(tmpdir(), 'gateway-older-site-'));
  const all = readdirSync('migrations').sort();
  const older = all.slice(
    0,
    all.findIndex((name) => name.endsWith('-chain-the-audit-trail.sql')),
  );
  for (const name of older) cpSync(join('migrations', name), join(folder, name));
  await migrate(database.databaseUrl, SCHEMA, folder);
  const pool = openPool({
    ...{ databaseUrl: database.databaseUrl, schema: SCHEMA, maxConnections: 2 },
  });
  try {
    // Several of one millisecond, and finer than a millisecond: the old column had microseconds.
    await pool.query(
      `insert into audit (at, action, outcome, entity, detail)
       select timestamptz '2026-03-01 08:00:00.123456Z' + (n / 4) * interval '1 ms', 'fhir-read', 200,
              'Observation/' || n, '{"n": 1}'
         from generate_series(1, 40) n`,
    );
    await migrate(database.databaseUrl, SCHEMA);
    const { rows } = await pool.query<{ entity: string }>(
      'select entity from audit order by audit_id',
    );
    expect(rows.map(({ entity }) => entity)).toEqual(
      Array.from({ length: 40 }, (_, n) => `Observation/${n + 1}`),
    );
    const trail = new AuditTrail({
      ...{ pool, names: new Names(pool), program: 'test' },
      onFailure: (error) => {
        throw error;
      },
    });
    await trail.closeLost();
    await trail.stop();
    const report = await verifyAudit(pool, { fromMs: null, toMs: null });
    expect(report).toMatchObject({ entries: 40, found: 40, waiting: 0, sealedSegments: 1 });
  } finally {
    await pool.end();
    await database.close();
    rmSync(folder, { recursive: true });
  }
});
