/** The bare limit (b): the rows that the gateway wrote, inserted again without it. */
import { insertRecords } from '../src/store/insert-records.js';
import type { Columns, TableRecord } from '../src/store/insert-records.js';
import { migrate } from '../src/store/migrate.js';
import { openPool } from '../src/store/pool.js';
import type { Pool } from '../src/store/pool.js';

const SETS = 6000;
const SETS_A_COMMIT = 64;
/** The best of these is the limit. */
const CONNECTIONS = [1, 2, 4];
/** What the rows point to. */
const REGISTERS = [
  'sources',
  'clients',
  'patients',
  'patient_identifiers',
  'encounters',
  'devices',
  'people',
  'places',
];
const TABLES = ['submissions', 'audit', 'readings'] as const;

interface SetRows {
  readonly submissions: TableRecord[];
  readonly audit: TableRecord[];
  readonly readings: TableRecord[];
}

async function columnsOf(pool: Pool, schema: string, table: string): Promise<Columns> {
  const { rows } = await pool.query<{ name: string; type: string }>(
    `select attname as name, format_type(atttypid, atttypmod) as type from pg_attribute
      where attrelid = ($1 || '.' || $2)::regclass and attnum > 0 and not attisdropped and attidentity = ''`,
    [schema, table],
  );
  return rows.map(({ name, type }) => [name, type]);
}

async function readSets(pool: Pool): Promise<SetRows[]> {
  const { rows } = await pool.query<{ rows: SetRows }>(
    `select json_build_object(
        'submissions', json_build_array(to_json(s)),
        'audit', (select json_agg(a) from audit a where a.entity = 'submissions/' || s.submission_id),
        'readings', (select json_agg(r) from readings r
                      where r.reading_id between s.submission_id
                                             and (left(s.submission_id::text, -4) || 'ffff')::uuid)) as rows
       from submissions s where s.holds_key limit ${SETS}`,
  );
  return rows.map((row) => row.rows);
}

/** Sets a second, committed in groups as the gateway does, over so many connections. */
async function insertAll(
  pool: Pool,
  columns: ReadonlyMap<string, Columns>,
  sets: readonly SetRows[],
  connections: number,
): Promise<number> {
  await pool.query('truncate submissions, audit, readings cascade');
  let next = 0;
  const startMs = performance.now();
  const worker = async (): Promise<void> => {
    const client = await pool.connect();
    for (;;) {
      const group = sets.slice(next, next + SETS_A_COMMIT);
      next += SETS_A_COMMIT;
      if (group.length === 0) break;
      await client.query('begin');
      for (const table of TABLES) {
        const records = group.flatMap((set) => set[table]);
        await insertRecords(client, table, columns.get(table) ?? [], records);
      }
      await client.query('commit');
    }
    client.release();
  };
  await Promise.all(Array.from({ length: connections }, worker));
  return sets.length / ((performance.now() - startMs) / 1000);
}

/** The greatest number of sets a second that this PostgreSQL takes. */
export async function measureInserts(databaseUrl: string, schema: string): Promise<number> {
  const bare = `${schema}_bare`;
  await migrate(databaseUrl, bare);
  const options = { databaseUrl, maxConnections: 4, statementTimeoutMs: 120_000 };
  const from = openPool({ ...options, schema });
  const to = openPool({ ...options, schema: bare });
  try {
    for (const table of REGISTERS) {
      await to.query(
        `insert into ${bare}.${table} overriding system value select * from ${schema}.${table}`,
      );
    }
    const columns = new Map<string, Columns>();
    for (const table of TABLES) columns.set(table, await columnsOf(to, bare, table));
    const sets = await readSets(from);
    await insertAll(to, columns, sets.slice(0, 1000), 2); // warm
    let best = 0;
    for (const connections of CONNECTIONS) {
      best = Math.max(best, await insertAll(to, columns, sets, connections));
    }
    return best;
  } finally {
    await from.end();
    await to.end();
  }
}
