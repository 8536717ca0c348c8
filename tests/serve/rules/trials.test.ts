import { createHash, randomUUID } from 'node:crypto';
import { pino } from 'pino';
import { readConfig } from '../../../src/config/config.js';
import { createGateway } from '../../../src/compose/gateway.js';
import type { Sender } from '../../../src/pipeline.js';
import { MRN, oxygen, registerPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { faultsOf } from '../review/review-desk.js';
import { configuration, STRICTER, twoPressures } from './site-configuration.js';
import type { Configuration } from './site-configuration.js';

interface Line {
  readonly rule: string;
  readonly from: string;
  readonly to: string;
  readonly ward: string | null;
  readonly readings: number;
  readonly examples: readonly string[];
}
interface Trial {
  readonly trial: string;
  readonly state: string;
  readonly progress: { readonly setsJudged: number; readonly setsTotal: number | null };
  readonly report: {
    readonly sets: number;
    readonly readings: number;
    readonly changed: number;
    readonly byDirection: readonly object[];
    readonly byRule: readonly Line[];
  } | null;
}

const PATIENTS = 40;
const SETS = 2_000;
/** Every so-manieth set has two pressures 18 mmHg apart; the others agree. */
const EVERY = 10;
const HOUR_MS = 3_600_000;

let gateway: TestGateway;
let token: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  token = await gateway.token('rules.write review.read sets.write');
  for (let i = 0; i < PATIENTS; i += 1) await registerPatient(gateway, number(i));
  await fill();
}, 120_000);
afterAll(() => gateway.close());

const number = (i: number): string => `LF-44${String(100 + (i % PATIENTS))}`;

/** Through the pipeline itself, at times of receipt an hour apart for each patient. */
async function fill(): Promise<void> {
  const { rows } = await gateway.database.pool.query<{ client_key: number; source_key: number }>(
    'select client_key, source_key from clients limit 1',
  );
  const sender: Sender = {
    clientKey: rows[0]?.client_key ?? 0,
    clientId: '',
    sourceKey: rows[0]?.source_key ?? 0,
    source: 'ward tablets',
    attended: true,
    secondIdentifierRequired: false,
    person: null,
  };
  let clockMs = Date.now() - (SETS / PATIENTS) * HOUR_MS;
  const pipeline = gateway.gateway.pipelineAt(() => clockMs);
  for (let round = 0; round < SETS / PATIENTS; round += 1) {
    const takenAt = new Date(clockMs - 60_000).toISOString();
    const bodies = Array.from({ length: PATIENTS }, (_, i) => ({
      setId: randomUUID(),
      patient: { identifier: { system: MRN, value: number(i) }, birthDate: '1967-03-21' },
      takenAt,
      location: i % 2 === 0 ? 'larkfield/3' : 'brookside/7',
      readings: [
        ...(i % EVERY === 0 ? twoPressures(110 + round) : twoPressures(110 + round).slice(0, 1)),
        oxygen(round % 6 === 5 ? 93 : 98),
      ],
    }));
    await Promise.all(
      bodies.map((body) =>
        pipeline.receiveSet(sender, Buffer.from(JSON.stringify(body)), 'application/json'),
      ),
    );
    clockMs += HOUR_MS;
  }
}

const start = (changes: Configuration, more: object = {}) =>
  gateway.ask<Trial>('/rules/trials', {
    token,
    body: {
      configuration: changes,
      receivedFrom: '2020-01-01T00:00:00Z',
      receivedTo: '2040-01-01T00:00:00Z',
      ...more,
    },
  });
const read = async (id: string): Promise<Trial> =>
  (await gateway.ask<Trial>(`/rules/trials/${id}`, { token })).body;

async function ended(id: string): Promise<Trial> {
  for (let i = 0; i < 600; i += 1) {
    const trial = await read(id);
    if (trial.state !== 'running') return trial;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error('the trial has not ended within half a minute');
}

/** A sum over every row of every table that a trial must not touch. */
async function checksum(): Promise<string> {
  const { pool } = gateway.database;
  const tables = [
    ...['submissions', 'readings', 'decisions', 'patients', 'patient_versions', 'encounters'],
    ...['patient_identifiers', 'devices', 'people', 'places', 'editions', 'publication_clock'],
  ];
  const hash = createHash('sha256');
  for (const table of tables) {
    const { rows } = await pool.query<{ sum: string }>(
      `select count(*)::text || ' ' || coalesce(md5(string_agg(t::text, '|' order by t::text)), '') as sum
         from ${table} t`,
    );
    hash.update(`${table} ${String(rows[0]?.sum)}\n`);
  }
  return hash.digest('hex');
}

describe('a trial', () => {
  it('reports which verdicts would change, by rule, direction and ward, and touches nothing', async () => {
    const before = await checksum();
    const begun = await start(STRICTER, { examples: 3 });
    expect(begun.status).toBe(202);
    expect(begun.body).toMatchObject({ state: 'running', report: null });
    const trial = await ended(begun.body.trial);
    expect(faultsOf('trial:1', trial)).toEqual([]);
    const changed = (SETS / EVERY) * 2;
    expect(trial).toMatchObject({
      state: 'done',
      progress: { setsJudged: SETS, setsTotal: SETS },
      report: {
        sets: SETS,
        unreadable: 0,
        readings: SETS * 2 + SETS / EVERY,
        changed,
        byDirection: [{ from: 'noted', to: 'held', readings: changed }],
      },
    });
    const lines = trial.report?.byRule ?? [];
    expect(lines.map(({ rule, ward, readings }) => [rule, ward, readings])).toEqual(
      expect.arrayContaining([
        ['blood-pressure-methods-disagree', 'larkfield', changed],
        ['blood-pressure-methods-differ', 'larkfield', changed],
      ]),
    );
    expect(lines).toHaveLength(2);
    const examples = lines[0]?.examples ?? [];
    expect(examples).toHaveLength(3);
    const { rows } = await gateway.database.pool.query<{ vital: string; verdict: string }>(
      'select vital, verdict from readings where reading_id = any($1::uuid[])',
      [examples],
    );
    expect(new Set(rows.map((row) => `${row.vital} ${row.verdict}`))).toEqual(
      new Set(['blood-pressure noted']),
    );
    expect(await checksum()).toBe(before);
  });

  it('asks rules that look back again where it concerns them', async () => {
    const { rows } = await gateway.database.pool.query<{ rule: string; times: number }>(
      `select f ->> 'rule' as rule, count(*)::int as times
         from readings, jsonb_array_elements(findings) f
        where version = 1 and verdict = 'noted' and jsonb_array_length(findings) = 1
          and f ->> 'rule' = 'oxygen-saturation-fallen' group by 1`,
    );
    const only = rows[0]?.times ?? 0;
    expect(only).toBeGreaterThan(0);
    const off = { 'oxygen-saturation-fallen': { enabled: false } };
    const trial = await ended((await start({ ...configuration({}), rules: off })).body.trial);
    expect(trial.report).toMatchObject({
      changed: only,
      byDirection: [{ from: 'noted', to: 'accepted', readings: only }],
    });
  });

  it('of what is in force changes nothing', async () => {
    const trial = await ended((await start(configuration({}))).body.trial);
    expect(trial.report).toMatchObject({ sets: SETS, changed: 0, byDirection: [], byRule: [] });
  });

  it('takes the sets of its time of receipt only', async () => {
    const { rows } = await gateway.database.pool.query<{ received_at: Date; sets: number }>(
      `select received_at, count(*)::int as sets from submissions where holds_key
        group by received_at order by received_at limit 4`,
    );
    const [first, , , last] = rows.map((row) => row.received_at);
    const trial = await ended(
      (
        await start(STRICTER, {
          receivedFrom: first?.toISOString(),
          receivedTo: last?.toISOString(),
        })
      ).body.trial,
    );
    expect(trial.report?.sets).toBe(3 * PATIENTS);
  });

  it('is refused with every fault of its configuration', async () => {
    const refused = await gateway.ask<{ errors: { pointer: string }[] }>('/rules/trials', {
      token,
      body: {
        configuration: configuration({ 'no-such-rule.limit': [1, '/min'] }),
        receivedFrom: '2026-01-02T00:00:00Z',
        receivedTo: '2026-01-01T00:00:00Z',
      },
    });
    expect(refused.status).toBe(400);
    expect(refused.body.errors.map(({ pointer }) => pointer)).toEqual([
      '/configuration/settings/no-such-rule.limit',
      '/receivedTo',
    ]);
  });

  it('needs both scopes', async () => {
    for (const scope of ['rules.write', 'review.read']) {
      const half = await gateway.token(scope);
      const refused = await gateway.ask<{ detail: string }>('/rules/trials', { token: half });
      expect([refused.status, refused.body.detail]).toEqual([
        403,
        'This needs the scope rules.write and review.read.',
      ]);
    }
  });

  it('can be cancelled, and only one runs at a time', async () => {
    const { trial } = (await start(STRICTER)).body;
    expect((await start(STRICTER)).status).toBe(409);
    const cancelled = await gateway.ask(`/rules/trials/${trial}`, { method: 'DELETE', token });
    expect(cancelled.status).toBe(202);
    const found = await ended(trial);
    expect(found.state).toBe('cancelled');
    expect(found.report?.sets).toBeLessThan(SETS);
    const again = await gateway.ask(`/rules/trials/${trial}`, { method: 'DELETE', token });
    expect(again.status).toBe(409);
  });

  it('ends as interrupted when its process stops, and another process can tell', async () => {
    const { databaseUrl, pool } = gateway.database;
    const config = readConfig({ PORT: '0', DATABASE_URL: databaseUrl, PUBLIC_URL: gateway.url });
    const other = createGateway(config, pool, pino({ level: 'silent' }));
    const { port } = await other.listen();
    const begun = await fetch(`http://127.0.0.1:${port}/rules/trials`, {
      method: 'POST',
      headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' },
      body: JSON.stringify({
        configuration: STRICTER,
        receivedFrom: '2020-01-01T00:00:00Z',
        receivedTo: '2040-01-01T00:00:00Z',
      }),
    });
    const { trial } = (await begun.json()) as Trial;
    await other.stop();
    expect((await read(trial)).state).toBe('interrupted');
  });

  it('is told as interrupted when its process was killed', async () => {
    const { pool } = gateway.database;
    const id = randomUUID();
    await pool.query(
      `insert into trials (trial_id, configuration, received_from, received_to, examples, requested_by,
                           requested_at, state, seen_at)
       select $1, '{}', now(), now(), 5, client_key, now() - interval '1 hour', 'running',
              now() - interval '1 minute' from clients limit 1`,
      [id],
    );
    expect(await read(id)).toMatchObject({ state: 'interrupted', report: null });
  });
});
