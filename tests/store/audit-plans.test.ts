/** The trail grows for years: what is asked of it by time, patient or resource is found by an index. */
import type { Pool } from 'pg';
import { countAudit, findAudit } from '../../src/store/find-audit.js';
import type { AuditCondition } from '../../src/store/find-audit.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

const ENTRIES = 30_000;
const PATIENTS = 300;
const FIRST_MS = Date.parse('2026-03-01T00:00:00Z');
const ID = '0197f3c0-0000-7000-8000-000000000001';

let database: TestDatabase;
let patientId: string;

beforeAll(async () => {
  database = await openTestDatabase();
  const { pool } = database;
  const { rows } = await pool.query<{ id: string }>(
    `insert into patients (patient_id) select gen_random_uuid() from generate_series(1, $1)
     returning patient_id as id`,
    [PATIENTS],
  );
  patientId = rows[0]?.id ?? '';
  // One entry a second, with ids as they are made: UUIDs version 7 of their moment.
  await pool.query(
    `insert into audit (audit_id, at, patient_key, action, outcome, entity)
     select (left(t.hex, 8) || '-' || right(t.hex, 4) || '-7000-8000-' || lpad(to_hex(g), 12, '0'))::uuid,
            to_timestamp($2::float8 / 1000 + g), 1 + g % $3,
            case when g % 3 = 0 then 'fhir-read' else 'set-received' end, 200,
            case when g % 3 = 0 then 'Observation/' else 'submissions/' end || gen_random_uuid()
       from generate_series(1, $1) as g,
            lateral (select lpad(to_hex($2::bigint + g * 1000), 12, '0') as hex) t`,
    [ENTRIES, FIRST_MS, PATIENTS],
  );
  await pool.query('analyze');
});
afterAll(() => database.close());

/** The plan of the one statement that a query of the store sends. */
async function planOf(ask: (pool: Pool) => Promise<unknown>): Promise<string> {
  let sent: [string, unknown[]] = ['', []];
  const spy = {
    query: (text: string, values: unknown[]) => {
      sent = [text, values];
      return Promise.resolve({ rows: [] });
    },
  };
  await ask(spy as unknown as Pool);
  const { rows } = await database.pool.query<{ 'QUERY PLAN': string }>(
    `explain (costs off) ${sent[0]}`,
    sent[1],
  );
  return rows.map((row) => row['QUERY PLAN']).join('\n');
}

const hour = { fromMs: FIRST_MS + 3_600_000, toMs: FIRST_MS + 7_200_000 };
const conditions = (): [name: string, condition: AuditCondition, index: string][] => [
  ['time', { on: 'recorded', ranges: [hour] }, 'audit_pkey'],
  ['id', { on: 'id', ids: [ID] }, 'audit_pkey'],
  ['patient', { on: 'patient', ids: [patientId] }, 'audit_by_patient'],
  [
    'resource',
    { on: 'entity', entities: [`Observation/${ID}`], patientIds: [] },
    'audit_by_entity',
  ],
];

it.each(['time', 'id', 'patient', 'resource'])(
  'finds and counts entries by %s by an index',
  async (name) => {
    const [, condition, index] = conditions().find(([one]) => one === name) ?? [];
    if (condition === undefined || index === undefined) throw new Error('no such condition');
    const page = { conditions: [condition], descending: true, afterId: null, limit: 50 };
    for (const ask of [
      (pool: Pool) => findAudit(pool, page),
      (pool: Pool) => countAudit(pool, [condition]),
    ]) {
      const plan = await planOf(ask);
      expect(plan).toContain(index);
      expect(plan).not.toContain('Seq Scan on audit a');
    }
  },
);

it('lists the newest without sorting what there is', async () => {
  const plan = await planOf((pool) =>
    findAudit(pool, { conditions: [], descending: true, afterId: null, limit: 50 }),
  );
  expect(plan).toContain('Index Scan Backward using audit_pkey');
  expect(plan).not.toContain('Seq Scan on audit a');
});
