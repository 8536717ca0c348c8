/** Whoever owns the schema can change anything in it; the verifier must notice, and name the entry. */
import fc from 'fast-check';
import { AuditFault } from '../../src/store/audit-fault.js';
import { linkHash, segmentStart } from '../../src/store/audit-hashes.js';
import { AUDIT_RECORD_COLUMNS, toAuditRecord } from '../../src/store/audit.js';
import type { AuditRow } from '../../src/store/audit.js';
import { verifyAudit } from '../../src/store/verify-audit.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';
import { buildTrail, letIntruderIn, restoreTrail } from './sealed-trail.js';

const PER_MINUTE = 5;
const ENTRIES = PER_MINUTE * 6;
const WHOLE = { fromMs: null, toMs: null };

let database: TestDatabase;
let ids: string[];

beforeAll(async () => {
  database = await openTestDatabase();
  await buildTrail(database.pool, PER_MINUTE);
  await letIntruderIn(database.pool);
  const { rows } = await database.pool.query<{ id: string }>(
    'select audit_id as id from audit_chain order by writer_key, minute, number',
  );
  ids = rows.map((row) => row.id);
});
afterAll(() => database.close());

const at = (n: number): string => ids[n % ENTRIES] ?? '';

/** What the verifier says after some changes; null: it found nothing. The trail is as it was afterwards. */
async function verdictAfter(...changes: readonly [text: string, values?: unknown[]][]) {
  try {
    for (const [text, values] of changes) await database.pool.query(text, values);
    await verifyAudit(database.pool, WHOLE);
    return null;
  } catch (error) {
    if (error instanceof AuditFault) return error.message;
    throw error;
  } finally {
    await restoreTrail(database.pool);
  }
}

it('finds nothing in a trail that nobody touched', async () => {
  const report = await verifyAudit(database.pool, WHOLE);
  expect(report).toMatchObject({ entries: ENTRIES, sealedSegments: 6, openSegments: 0, lost: [] });
});

/** One change of one column, so that the row says something else. */
const COLUMNS: Readonly<Record<string, string>> = {
  at: "at + interval '1 ms'",
  writer_key: 'coalesce(writer_key, 0) + 1',
  client_key: 'coalesce(client_key, 0) + 1',
  person_key: 'coalesce(person_key, 0) + 1',
  patient_key: 'coalesce(patient_key, 0) + 1',
  action: "action || '!'",
  outcome: 'outcome + 1',
  entity: "entity || '!'",
  request_id: "request_id || '!'",
  address: "'192.0.2.8'",
  detail: `coalesce(detail, '{}') || '{"z": 2}'`,
};

it.each(Object.entries(COLUMNS))('names the entry whose %s was changed', async (column, value) => {
  await fc.assert(
    fc.asyncProperty(fc.nat(ENTRIES - 1), async (n) => {
      const told = await verdictAfter([
        `update audit set ${column} = ${value} where audit_id = $1`,
        [at(n)],
      ]);
      expect(told).toContain(at(n));
    }),
    { numRuns: 3 },
  );
});

it('knows every column of an entry', async () => {
  const { rows } = await database.pool.query<{ name: string }>(
    `select attname as name from pg_attribute
      where attrelid = 'audit'::regclass and attnum > 0 and not attisdropped`,
  );
  const names = rows.map(({ name }) => name).filter((name) => name !== 'audit_id');
  expect(names.sort()).toEqual(Object.keys(COLUMNS).sort());
});

it('names the entry that was deleted', async () => {
  await fc.assert(
    fc.asyncProperty(fc.nat(ENTRIES - 1), async (n) => {
      expect(await verdictAfter(['delete from audit where audit_id = $1', [at(n)]])).toContain(
        at(n),
      );
    }),
    { numRuns: 6 },
  );
});

it('misses an entry that was deleted with its link', async () => {
  await fc.assert(
    fc.asyncProperty(fc.nat(ENTRIES - 1), async (n) => {
      const told = await verdictAfter(
        ['delete from audit where audit_id = $1', [at(n)]],
        ['delete from audit_chain where audit_id = $1', [at(n)]],
      );
      expect(told).toMatch(/^Entry [1-5] of minute .* is gone$/);
    }),
    { numRuns: 6 },
  );
});

it('misses entries whose links were deleted and renumbered', async () => {
  const told = await verdictAfter(
    ['delete from audit where audit_id = $1', [at(1)]],
    ['delete from audit_chain where audit_id = $1', [at(1)]],
    [
      `update audit_chain set number = number - 1 where number > 2 and (writer_key, minute) =
         (select writer_key, minute from audit_chain where audit_id = $1)`,
      [at(0)],
    ],
  );
  expect(told).toContain(at(2));
});

const twoOf = fc.tuple(fc.nat(ENTRIES - 1), fc.nat(ENTRIES - 1)).filter(([a, b]) => a !== b);

it('finds two entries that changed their contents', async () => {
  await fc.assert(
    fc.asyncProperty(twoOf, async ([a, b]) => {
      const columns = 'at, client_key, action, outcome, entity, request_id, detail';
      const told = await verdictAfter([
        `update audit x set (${columns}) = (select ${columns} from audit y
            where y.audit_id = case when x.audit_id = $1 then $2::uuid else $1::uuid end)
          where x.audit_id in ($1, $2)`,
        [at(a), at(b)],
      ]);
      expect(told).toContain(at(Math.min(a, b)));
    }),
    { numRuns: 8 },
  );
});

it('finds two links that changed their places', async () => {
  await fc.assert(
    fc.asyncProperty(twoOf, async ([a, b]) => {
      const told = await verdictAfter(
        ['alter table audit_chain drop constraint audit_chain_audit_id_key'],
        [
          `update audit_chain set audit_id = case when audit_id = $1 then $2::uuid else $1::uuid end
            where audit_id in ($1, $2)`,
          [at(a), at(b)],
        ],
      );
      await database.pool.query(
        'alter table audit_chain add constraint audit_chain_audit_id_key unique (audit_id)',
      );
      // The entry that stands now where the first of the two stood.
      expect(told).toContain(at(Math.max(a, b)));
    }),
    { numRuns: 4 },
  );
});

it('finds an entry that somebody put there', async () => {
  const id = '0197f3c0-0000-7000-8000-00000000beef';
  const told = await verdictAfter([
    `insert into audit (audit_id, at, writer_key, action, outcome)
     select $1, now(), max(writer_key), 'fhir-read', 200 from audit`,
    [id],
  ]);
  expect(told).toBe(`Entry ${id} is in no chain`);
});

it('finds an entry that was added, with a link and a right hash, behind the last of a sealed minute', async () => {
  const { rows } = await database.pool.query<AuditRow & { before: Buffer }>(
    `select ${AUDIT_RECORD_COLUMNS}, c.hash as before from audit a join audit_chain c using (audit_id)
      where c.audit_id = $1`,
    [at(PER_MINUTE - 1)],
  );
  const id = '0197f3c0-0000-7000-8000-00000000beef';
  const last = rows[0];
  if (last === undefined) throw new Error('no last entry');
  const hash = linkHash(last.before, PER_MINUTE + 1, false, {
    ...toAuditRecord(last),
    audit_id: id,
  });
  const told = await verdictAfter(
    [
      `insert into audit select (jsonb_populate_record(a, jsonb_build_object('audit_id', $2::text))).*
         from audit a where audit_id = $1`,
      [at(PER_MINUTE - 1), id],
    ],
    [
      `insert into audit_chain select writer_key, minute, number + 1, $2::uuid, false, $3::bytea
         from audit_chain where audit_id = $1`,
      [at(PER_MINUTE - 1), id, hash],
    ],
  );
  expect(told).toMatch(new RegExp(`^Entry ${id} is not under the seal`));
});

it('finds an entry that was changed together with all hashes after it in its minute', async () => {
  await database.pool.query("update audit set action = 'nothing' where audit_id = $1", [at(0)]);
  const { rows } = await database.pool.query<
    AuditRow & { number: number; hash: Buffer; writer_id: string; minute: Date }
  >(
    `select ${AUDIT_RECORD_COLUMNS}, c.number, c.hash from audit a join audit_chain c using (audit_id)
      where (c.writer_key, c.minute) = (select writer_key, minute from audit_chain where audit_id = $1)
      order by c.number`,
    [at(0)],
  );
  const { rows: places } = await database.pool.query<{ id: string; minute: Date }>(
    `select w.writer_id as id, c.minute from audit_chain c join audit_writers w using (writer_key)
      where c.audit_id = $1`,
    [at(0)],
  );
  const place = places[0];
  if (place === undefined) throw new Error('no place');
  let hash = segmentStart(place.id, place.minute.getTime());
  const changes = rows.map((row): [string, unknown[]] => {
    hash = linkHash(hash, row.number, false, toAuditRecord(row));
    return ['update audit_chain set hash = $2 where audit_id = $1', [row.audit_id, hash]];
  });
  expect(await verdictAfter(...changes)).toContain('is not under the seal');
});

it.each([
  ['is gone', 'delete from audit_seals where seal_number = 3', 'Seal 3 is gone'],
  [
    'was changed',
    'update audit_seals set entries = entries - 1 where seal_number = 3',
    'Seal 3 is not what was sealed',
  ],
])('notices that a seal %s', async (_, change, words) => {
  expect(await verdictAfter([change])).toBe(words);
});

it('notices that the last seal of a process is gone', async () => {
  const told = await verdictAfter(['delete from audit_seals where seal_number = 6']);
  expect(told).toMatch(/^The seal of minute .* is gone; its last entry is /);
});

it('notices that a whole minute is gone, with its links, and with its seal', async () => {
  const gone: readonly [string][] = [
    [
      `delete from audit using audit_chain c, audit_seals s where audit.audit_id = c.audit_id
         and (c.writer_key, c.minute) = (s.writer_key, s.minute) and s.seal_number = 4`,
    ],
    [
      `delete from audit_chain c using audit_seals s
        where (c.writer_key, c.minute) = (s.writer_key, s.minute) and s.seal_number = 4`,
    ],
  ];
  expect(await verdictAfter(...gone)).toMatch(/^All entries of minute .* are gone$/);
  const all = await verdictAfter(...gone, ['delete from audit_seals where seal_number = 4']);
  expect(all).toBe('Seal 4 is gone');
});

it('notices a mark that was changed: found, or written', async () => {
  const told = await verdictAfter([
    'update audit_chain set found = true where audit_id = $1',
    [at(7)],
  ]);
  expect(told).toContain(at(7));
});
