import { mkdtemp, readFile, rm, stat, unlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { prepareDemo } from '../../src/demo/prepare-demo.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { findClient, hashSecret } from '../../src/store/clients.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

type PipelineAt = Gateway['pipelineAt'];

interface Ward {
  readonly database: TestDatabase;
  readonly dataDir: string;
  readonly credentialsFile: string;
  readonly prepare: (pipelineAt?: PipelineAt) => Promise<unknown>;
  readonly pipelineAt: PipelineAt;
  readonly rows: <T>(query: string) => Promise<T[]>;
  readonly close: () => Promise<void>;
}

async function openWard(): Promise<Ward> {
  const database = await openTestDatabase();
  const { pool } = database;
  const dataDir = await mkdtemp(join(tmpdir(), 'demo-ward-'));
  const config = readConfig({ DATABASE_URL: database.databaseUrl });
  const { pipelineAt } = createGateway(config, pool, pino({ level: 'silent' }));
  return {
    database,
    dataDir,
    credentialsFile: join(dataDir, 'demo-clients.json'),
    prepare: (other = pipelineAt) => prepareDemo({ pool, dataDir, pipelineAt: other }),
    pipelineAt,
    rows: async <T>(query: string) => (await pool.query(query)).rows as T[],
    async close() {
      await database.close();
      await rm(dataDir, { recursive: true });
    },
  };
}

interface Credential {
  readonly role: string;
  readonly clientId: string;
  readonly clientSecret: string;
  readonly scopes: string;
}

async function readFileOf(ward: Ward): Promise<Credential[]> {
  return JSON.parse(await readFile(ward.credentialsFile, 'utf8')) as Credential[];
}

/** Everything that preparing writes, the audit trail left out. */
const COUNTS = `select (select count(*) from clients) clients, (select count(*) from sources) sources,
  (select count(*) from patient_versions) patients, (select count(*) from submissions) submissions,
  (select count(*) from readings) readings, (select count(*) from encounters) encounters`;

let ward: Ward;

beforeAll(async () => {
  ward = await openWard();
  await ward.prepare();
});
afterAll(() => ward.close());

describe('the demo ward in the database', () => {
  it('took every set: all kept, none against the contract', async () => {
    expect(
      await ward.rows('select status, count(*) from submissions group by status order by status'),
    ).toEqual([
      { status: 201, count: 676 },
      { status: 422, count: 1 },
    ]);
  });

  it('has readings of every verdict, and of every way in which a reading can stand', async () => {
    const found = await ward.rows<{ state: string; count: number }>(
      `select concat_ws(' ', verdict, hold, coalesce(status::text, 'unpublished')) state, count(*)
         from readings group by 1`,
    );
    expect(Object.fromEntries(found.map(({ state, count }) => [state, count]))).toEqual({
      'accepted final': expect.any(Number) as number,
      'accepted preliminary': expect.any(Number) as number,
      'accepted cancelled': 2,
      'noted final': expect.any(Number) as number,
      'held value preliminary': 2,
      'held value unpublished': 5,
      'held unit unpublished': 1,
      'held identity unpublished': 9,
      'rejected unpublished': 7,
    });
  });

  it('holds and rejects for the reasons that it is meant to show', async () => {
    const found = await ward.rows<{ rule: string }>(
      `select distinct f->>'rule' rule from readings r, jsonb_array_elements(r.findings) f
        where f->>'verdict' in ('held', 'rejected') order by 1`,
    );
    expect(found.map(({ rule }) => rule)).toEqual([
      'blood-pressure-methods-disagree',
      'fahrenheit-suspected',
      'fraction-suspected',
      'kilopascal-suspected',
      'no-signal',
      'patient-mismatch',
      'patient-unknown',
      'pulse-methods-disagree',
      'systolic-not-above-diastolic',
      'unit-unknown',
      'value-doubtful',
      'value-impossible',
    ]);
  });

  it('notes what is critical, what differs and who has one identifier only', async () => {
    const found = await ward.rows<{ rule: string }>(
      `select distinct f->>'rule' rule from readings r, jsonb_array_elements(r.findings) f
        where f->>'verdict' = 'noted'`,
    );
    expect(found.map(({ rule }) => rule)).toEqual(
      expect.arrayContaining([
        'blood-pressure-methods-differ',
        'patient-single-identifier',
        'pulse-methods-differ',
        'value-critical',
      ]),
    );
  });

  it('published both sides of the critical disagreement at once', async () => {
    const found = await ward.rows<{ critical: boolean }>(
      `select interpretation like 'LL%' critical from readings
        where verdict = 'held' and status = 'preliminary' order by systolic`,
    );
    expect(found).toEqual([{ critical: true }, { critical: false }]);
  });

  it('received each set minutes after it was taken, save those of one nurse, none in the future', async () => {
    const [late] = await ward.rows<{ late: number }>(
      `select count(*) late from submissions s join readings r using (set_id)
        where r.recorder_key is distinct from (select person_key from people where value = 'N-417')
          and s.received_at not between r.effective_at and r.effective_at + interval '15 minutes'
           or s.received_at > now()`,
    );
    expect(late).toEqual({ late: 0 });
  });

  it('left credentials of the four roles, for the owner alone', async () => {
    expect((await stat(ward.credentialsFile)).mode & 0o777).toBe(0o600);
    const credentials = await readFileOf(ward);
    expect(credentials.map(({ role, scopes }) => [role, scopes])).toEqual([
      ['sender', 'sets.write sets.check system/Observation.c'],
      ['analyst', 'review.read review.write rules.read'],
      ['record', 'system/*.rs system/Subscription.cruds'],
      ['admin', 'admin metrics.read system/Patient.crus'],
    ]);
    for (const { clientId, clientSecret, scopes } of credentials) {
      const client = await findClient(ward.database.pool, clientId);
      expect(client?.secretSha256).toEqual(hashSecret(clientSecret));
      expect(client?.scopes.join(' ')).toBe(scopes);
    }
  });

  it('gave the demo sender an attended source and the monitor an unattended one', async () => {
    const found = await ward.rows<{ name: string }>(
      `select name from sources where not attended and not built_in`,
    );
    expect(found).toEqual([{ name: 'larkfield-monitor' }]);
  });
});

describe('preparing the demo ward again', () => {
  let counts: unknown;

  beforeEach(async () => {
    counts = await ward.rows(COUNTS);
  });

  it('changes nothing', async () => {
    const before = [await readFileOf(ward), await ward.rows('select count(*) from audit')];
    await ward.prepare();
    expect(await ward.rows(COUNTS)).toEqual(counts);
    expect([await readFileOf(ward), await ward.rows('select count(*) from audit')]).toEqual(before);
  });

  it('writes a lost credentials file anew, with other secrets, and adds nothing', async () => {
    const before = await readFileOf(ward);
    await unlink(ward.credentialsFile);
    await ward.prepare();
    const after = await readFileOf(ward);
    expect(await ward.rows(COUNTS)).toEqual(counts);
    expect(after.map(({ clientId }) => clientId)).toEqual(before.map(({ clientId }) => clientId));
    for (const [i, { clientSecret }] of after.entries()) {
      expect(clientSecret).not.toBe(before[i]?.clientSecret);
    }
  });

  it.each(['', '[]'])('does so too for a broken file (%j)', async (text) => {
    await writeFile(ward.credentialsFile, text);
    await ward.prepare();
    expect(await readFileOf(ward)).toHaveLength(4);
    expect(await ward.rows(COUNTS)).toEqual(counts);
  });

  it('fills another database, whatever file the folder holds', async () => {
    const other = await openWard();
    await writeFile(other.credentialsFile, await readFile(ward.credentialsFile));
    await other.prepare();
    expect(await other.rows(COUNTS)).toEqual(counts);
    expect(await readFileOf(other)).not.toEqual(await readFileOf(ward));
    await other.close();
  });
});

describe('preparing that was cut short', () => {
  const SET_IDS = 'select set_id from submissions order by set_id';
  let cut: Ward;

  beforeEach(async () => {
    cut = await openWard();
  });
  afterEach(() => cut.close());

  /** A pipeline that is gone after so many sets, as when the process is killed. */
  function dyingAfter(sets: number): PipelineAt {
    return (clock) => {
      const pipeline = cut.pipelineAt(clock);
      const receiveSet = pipeline.receiveSet.bind(pipeline);
      const received: Promise<unknown>[] = [];
      pipeline.receiveSet = async (...args) => {
        if (received.length === sets) {
          await Promise.all(received);
          throw new Error('killed');
        }
        const reply = receiveSet(...args);
        received.push(reply);
        return reply;
      };
      return pipeline;
    };
  }

  it.each([0, 150, 361])('is completed by the next start (after %i sets)', async (sets) => {
    await expect(cut.prepare(dyingAfter(sets))).rejects.toThrow('killed');
    expect(await cut.rows('select count(*) from submissions')).toEqual([{ count: sets }]);
    await expect(readFile(cut.credentialsFile)).rejects.toThrow('ENOENT');

    await cut.prepare();
    expect(await cut.rows(SET_IDS)).toEqual(await ward.rows(SET_IDS));
    expect(await cut.rows(COUNTS)).toEqual(await ward.rows(COUNTS));
    expect(await readFileOf(cut)).toHaveLength(4);
  });
});
