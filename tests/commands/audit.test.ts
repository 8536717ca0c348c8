import { execFile } from 'node:child_process';
import { digestOf } from '../../src/store/audit-hashes.js';
import { readDigestKey } from '../../src/store/audit-writers.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';
import { buildTrail, FIRST_MINUTE_MS } from '../store/sealed-trail.js';

interface Ended {
  readonly code: number;
  readonly out: string;
  readonly err: string;
}

let database: TestDatabase;
beforeAll(async () => {
  database = await openTestDatabase();
  await buildTrail(database.pool, 4);
});
afterAll(() => database.close());

/** Runs the built command as a person at a console does. */
function run(args: readonly string[], input = '', env: Record<string, string> = {}) {
  return new Promise<Ended>((resolve) => {
    const { databaseUrl, schema } = database;
    const child = execFile(
      process.execPath,
      ['dist/commands/audit.js', ...args],
      { env: { DATABASE_URL: databaseUrl, DATABASE_SCHEMA: schema, ...env } },
      (error, out, err) => {
        resolve({ code: error === null ? 0 : Number(error.code), out, err });
      },
    );
    child.stdin?.end(input);
  });
}

const minute = (n: number): string => new Date(FIRST_MINUTE_MS + n * 60_000).toISOString();
const count = async (table: string): Promise<number> => {
  const { rows } = await database.pool.query<{ n: number }>(`select count(*) as n from ${table}`);
  return rows[0]?.n ?? 0;
};

describe('npm run audit', () => {
  it('verify: says in a sentence that the trail is whole', async () => {
    expect(await run(['verify'])).toEqual({
      code: 0,
      out: 'The audit trail is whole: 24 entries in 6 sealed minutes and 0 minutes not sealed yet.\n',
      err: '',
    });
    const part = await run(['verify', '--from', minute(1), '--to', minute(2)]);
    expect(part.out).toContain('8 entries in 2 sealed minutes');
  });

  it('seals: prints each as a line of JSON, also those after one', async () => {
    const { out } = await run(['seals']);
    const lines = out.trim().split('\n');
    expect(lines.map((line) => (JSON.parse(line) as { seal: number }).seal)).toEqual([
      1, 2, 3, 4, 5, 6,
    ]);
    expect(JSON.parse(lines[0] ?? '')).toMatchObject({
      minute: minute(0),
      entries: 4,
      hash: expect.stringMatching(/^[0-9a-f]{64}$/) as string,
    });
    expect((await run(['seals', '--after', '4'])).out.trim().split('\n')).toEqual(lines.slice(4));
  });

  it('digest: tells by which digest an entry names a value', async () => {
    const key = await readDigestKey(database.pool);
    const values = ['urn:example:mrn|LF-20417', 'Ä'];
    const { out } = await run(['digest'], values.join('\n'));
    expect(out.trim().split('\n')).toEqual(values.map((value) => digestOf(key, value)));
  });

  it('clear: takes whole sealed minutes, leaves their seals, and is on record', async () => {
    const cleared = await run(['clear', '--before', minute(2)]);
    expect(cleared).toMatchObject({ code: 0, err: '' });
    expect(cleared.out).toBe(`Cleared 4 sealed minutes before ${minute(2)}; the seals stay.\n`);
    expect(await count("audit where action in ('fhir-read', 'set-received')")).toBe(8);
    expect(await count("audit_seals where minute < now() - interval '1 day'")).toBe(6);
    const { out, code } = await run(['verify']);
    expect(code).toBe(0);
    expect(out).toContain('Retention has cleared 4 minutes.');
    const { rows } = await database.pool.query(
      'select action, detail from audit where writer_key = (select max(writer_key) from audit_writers) order by audit_id',
    );
    expect(rows).toEqual([
      { action: 'process-started', detail: { program: 'audit' } },
      { action: 'audit-cleared', detail: { before: minute(2) } },
      { action: 'process-stopped', detail: { program: 'audit' } },
    ]);
    expect((await run(['clear', '--before', minute(2)])).out).toContain('Cleared 0 sealed minutes');
  });

  it('verify: exits with 1 and names the entry at fault', async () => {
    const { rows } = await database.pool.query<{ id: string }>(
      "select audit_id as id from audit where action = 'fhir-read' limit 1",
    );
    await database.pool.query('alter table audit disable trigger user');
    await database.pool.query('update audit set outcome = 201 where audit_id = $1', [rows[0]?.id]);
    await database.pool.query('alter table audit enable trigger user');
    const told = await run(['verify']);
    expect(told.code).toBe(1);
    expect(told.out).toMatch(
      new RegExp(`^Entry ${rows[0]?.id ?? ''} is not what was chained.*\\.\\n$`),
    );
    expect(told.err).toBe('');
  });

  it.each([
    [[], 'Use: npm run audit'],
    [['check'], 'Use: npm run audit'],
    [['verify', '--before', '2026-01-01'], 'Use: npm run audit'],
    [['verify', '--from', 'yesterday'], '--from is not a time: yesterday.'],
    [['verify', '--from', '2026-13-01'], '--from is not a time: 2026-13-01.'],
    [['clear'], 'Use: npm run audit'],
    [['clear', '--before', '2999-01-01'], '--before lies in the future.'],
    [['seals', '--after', 'x'], '--after is not a number.'],
  ])('refuses %j in one plain sentence', async (args, words) => {
    const { code, out, err } = await run(args);
    expect([code, out]).toEqual([1, '']);
    expect(err).toContain(words);
    expect(err.trim().split('\n')).toHaveLength(1);
  });

  it('says that it needs a database, and a migrated one', async () => {
    expect((await run(['verify'], '', { DATABASE_URL: '' })).err).toContain(
      'DATABASE_URL is not set',
    );
    const empty = await run(['verify'], '', { DATABASE_SCHEMA: 'elsewhere' });
    expect(empty.code).toBe(1);
    expect(empty.err).toContain('npm run migrate');
  });
});

describe('the tables of the trail', () => {
  it.each([
    ['audit', 'update audit set action = action'],
    ['audit', 'delete from audit'],
    ['audit', 'truncate audit'],
    ['audit_chain', 'update audit_chain set found = true'],
    ['audit_chain', 'delete from audit_chain'],
    ['audit_seals', 'update audit_seals set entries = 1'],
    ['audit_seals', 'delete from audit_seals'],
  ])('of %s take nothing back: %s', async (_, change) => {
    await expect(database.pool.query(change)).rejects.toThrow('the audit trail is not changed');
  });
});
