/** The audit trail of running gateways: complete, and in nobody's way. */
import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { AuditTrail } from '../../src/store/audit-trail.js';
import { Names } from '../../src/store/names.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { verifyAudit } from '../../src/store/verify-audit.js';
import { auditRows } from '../setup/audit-rows.js';
import { oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { GatewayProcess, PUBLIC_URL } from '../setup/gateway-process.js';

const WHOLE = { fromMs: null, toMs: null };

let one: TestGateway;
let other: { gateway: Gateway; pool: Pool; url: string };
let sender: string;
let record: string;
let patient: TestPatient;

beforeAll(async () => {
  one = await openTestGateway({ PUBLIC_URL });
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const config = readConfig({ PORT: '0', DATABASE_URL: databaseUrl, PUBLIC_URL });
  const gateway = createGateway(config, pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  other = { gateway, pool, url: `http://127.0.0.1:${port}` };
  sender = await one.token('sets.write');
  record = await one.token('system/*.rs');
  patient = await registerPatient(one, 'LF-38100');
});
afterAll(async () => {
  await other.gateway.stop();
  await other.pool.end();
  await one.close();
});

const send = (url: string) =>
  askAt(`${url}/sets`, { body: setOf(patient, [oxygen(97)]), token: sender });
const read = (url: string, id?: string) =>
  askAt(`${url}/fhir/Observation?code=2708-6&_count=1`, {
    token: record,
    ...(id !== undefined && { headers: { 'x-request-id': id } }),
  });

async function chained(): Promise<{ chained: number; all: number }> {
  const { rows } = await one.database.pool.query<{ chained: number; all: number }>(
    'select (select count(*) from audit_chain) as chained, (select count(*) from audit) as all',
  );
  return rows[0] ?? { chained: 0, all: 0 };
}

/** Another process that takes everybody for lost who is silent at this moment. */
async function closeSilent(): Promise<void> {
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 2 });
  const trail = new AuditTrail({
    ...{ pool, names: new Names(pool), program: 'test' },
    onFailure: (error) => {
      throw error;
    },
  });
  await trail.closeLost(0);
  await trail.stop();
  await pool.end();
}

async function untilChained(): Promise<void> {
  for (let turn = 0; turn < 200; turn += 1) {
    const found = await chained();
    if (found.chained === found.all) return;
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
  throw new Error('not all entries were chained within five seconds');
}

it('holds everything that two gateways do at one time, in chains of their own', async () => {
  await Promise.all(
    Array.from({ length: 20 }, async (_, n) => {
      const { url } = n % 2 === 0 ? one : other;
      expect((await send(url)).status).toBe(201);
      expect((await read(url, `at-one-time-${n}`)).status).toBe(200);
    }),
  );
  const looks = await auditRows(one.database.pool, "request_id like 'at-one-time-%'", [], 20);
  expect(looks).toHaveLength(20);
  expect(new Set(looks.map(({ action }) => action))).toEqual(new Set(['fhir-search']));
  await untilChained();
  const report = await verifyAudit(one.database.pool, WHOLE);
  expect(report).toMatchObject({ found: 0, waiting: 0, lost: [] });
  const { rows } = await one.database.pool.query<{ n: number }>(
    'select count(distinct writer_key) as n from audit_chain',
  );
  expect(rows[0]?.n).toBe(2);
});

it('keeps nobody waiting who reads: the table is locked, and the answer comes', async () => {
  const blocker = await one.database.pool.connect();
  try {
    await blocker.query('begin');
    await blocker.query('lock table audit, audit_chain in access exclusive mode');
    for (const n of [1, 2, 3]) expect((await read(one.url, `while-locked-${n}`)).status).toBe(200);
  } finally {
    await blocker.query('rollback');
    blocker.release();
  }
  const rows = await auditRows(one.database.pool, "request_id like 'while-locked-%'", [], 3);
  expect(rows.map(({ request_id: id }) => id)).toEqual([1, 2, 3].map((n) => `while-locked-${n}`));
});

it('has an act in its own transaction: without its entry it does not happen', async () => {
  const { pool } = one.database;
  await pool.query(
    "alter table audit add constraint none_today check (action <> 'set-received') not valid",
  );
  const refused = await send(one.url);
  await pool.query('alter table audit drop constraint none_today');
  expect(refused.status).toBe(500);
  const before = await auditRows(pool, "action = 'set-received'");
  expect((await send(one.url)).status).toBe(201);
  expect(await auditRows(pool, "action = 'set-received'")).toHaveLength(before.length + 1);
});

it('goes on when another process took it for lost and ended its chain', async () => {
  const { pool } = one.database;
  await untilChained();
  await closeSilent();
  const { rows } = await pool.query<{ open: number }>(
    'select count(*) as open from audit_writers where closed_at is null',
  );
  expect(rows[0]?.open).toBe(0);
  expect((await send(one.url)).status).toBe(201);
  expect((await read(one.url, 'after-the-end')).status).toBe(200);
  await auditRows(pool, "request_id = 'after-the-end'");
  await untilChained();
  const report = await verifyAudit(pool, WHOLE);
  expect(report.waiting).toBe(0);
  expect(report.lost.length).toBeGreaterThan(0);
}, 60_000);

it('is whole after a process was killed in the middle of its work', async () => {
  const { pool } = one.database;
  const { rows: before } = await pool.query<{ key: number }>(
    'select max(writer_key) as key from audit_writers',
  );
  const child = new GatewayProcess(one.database.databaseUrl);
  await child.start();
  const url = `http://127.0.0.1:${child.port}`;
  await read(url, 'before-the-kill');
  await auditRows(pool, "request_id = 'before-the-kill'");
  const sets = await Promise.all(Array.from({ length: 12 }, () => send(url)));
  await child.kill();
  expect(sets.map(({ status }) => status)).toEqual(sets.map(() => 201));
  const killed = await pool.query<{ key: number; id: string }>(
    'select writer_key as key, writer_id as id from audit_writers where writer_key > $1',
    [before[0]?.key],
  );
  const [writer] = killed.rows;
  if (writer === undefined) throw new Error('the killed process had no chain');
  // Every set that was acknowledged is on record, chained or not.
  const { rows: acts } = await pool.query<{ acts: number; open: number }>(
    `select count(*) as acts, count(*) filter (where c.audit_id is null) as open
       from audit a left join audit_chain c using (audit_id)
      where a.writer_key = $1 and a.action = 'set-received'`,
    [writer.key],
  );
  expect(acts[0]?.acts).toBe(12);
  await closeSilent();
  await untilChained();
  const report = await verifyAudit(pool, WHOLE);
  expect(report.lost.map(({ writerId }) => writerId)).toContain(writer.id);
  expect(report.found).toBe(acts[0]?.open);
}, 60_000);
