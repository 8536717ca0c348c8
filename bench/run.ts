/**
 * `npm run bench`: the gateway against two bare limits of the same machine, all in one run.
 * (a) an Express route that parses and answers the same bodies;
 * (b) multi-row inserts of all the rows that the gateway wrote (submissions, audit, readings) into the
 *     same PostgreSQL, without the gateway.
 * Figures on a shared machine move by tens of percent: read the ratios, not the rates.
 */
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { addClient } from '../src/store/clients.js';
import { startEmbeddedServer } from '../src/store/embedded/server.js';
import { migrate } from '../src/store/migrate.js';
import { openPool } from '../src/store/pool.js';
import type { Pool } from '../src/store/pool.js';
import { measureInserts } from './bare-inserts.js';
import { exampleBody, patientNumber } from './example-body.js';
import type { LoadOptions, LoadResult } from './load.js';
import { measurePurePath } from './pure-path.js';

const PATIENTS = 50_000;
const SECONDS = Number(process.env.BENCH_SECONDS ?? '8');
const CONNECTIONS = 192;
const SCHEMA = 'bench';
const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));

async function firstLine(child: ChildProcess, pattern: RegExp): Promise<string> {
  return new Promise((resolve, reject) => {
    let text = '';
    child.stdout?.on('data', (chunk: Buffer) => {
      text += chunk.toString();
      const found = pattern.exec(text);
      if (found?.[1] !== undefined) resolve(found[1]);
    });
    child.once('exit', () => {
      reject(new Error(`a process of the bench ended early: ${text}`));
    });
  });
}

async function load(options: LoadOptions): Promise<LoadResult> {
  const child = spawn(process.execPath, [here('./load.js'), JSON.stringify(options)], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let text = '';
  child.stdout.on('data', (chunk: Buffer) => (text += chunk.toString()));
  await new Promise((resolve) => child.once('close', resolve));
  return JSON.parse(text) as LoadResult;
}

async function registerPatients(pool: Pool): Promise<void> {
  const numbers = Array.from({ length: PATIENTS }, (_, n) => patientNumber(n));
  await pool.query(
    `with p as (insert into patients (patient_id) select gen_random_uuid() from unnest($1::text[])
                returning patient_key),
          n as (select patient_key, row_number() over () as i from p),
          v as (insert into patient_versions (patient_key, version, stamp, family_name, birth_date, gender, resource)
                select patient_key, 1, now(), 'Bench', '1961-04-17', 'female', '{}' from n),
          e as (insert into encounters (encounter_id, system, value, patient_key)
                select gen_random_uuid(), 'urn:example:visit', 'V-' || i - 1, patient_key from n)
     insert into patient_identifiers (system, value, patient_key)
     select 'urn:example:mrn', ($1::text[])[i], patient_key from n`,
    [numbers],
  );
}

async function token(publicUrl: string, id: string, secret: string): Promise<string> {
  const answer = await fetch(`${publicUrl}/auth/token`, {
    method: 'POST',
    headers: { authorization: `Basic ${Buffer.from(`${id}:${secret}`).toString('base64')}` },
    body: new URLSearchParams({ grant_type: 'client_credentials' }),
  });
  return ((await answer.json()) as { access_token: string }).access_token;
}

async function measureBareRoute(answer: string, base: LoadOptions): Promise<LoadResult> {
  const child = spawn(process.execPath, [here('./bare-route.js')], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  child.stdin.end(answer);
  const port = Number(await firstLine(child, /^(\d+)\n/));
  const result = await load({ ...base, port });
  child.kill();
  return result;
}

async function bytesAnObservation(pool: Pool): Promise<number> {
  await pool.query('vacuum analyze readings');
  const { rows } = await pool.query<{ bytes: number }>(
    "select pg_total_relation_size('readings')::float / count(*) as bytes from readings",
  );
  return rows[0]?.bytes ?? 0;
}

function row(name: string, value: string): void {
  process.stdout.write(`${name.padEnd(58)}${value}\n`);
}

function latency(name: string, result: LoadResult): void {
  row(name, `p50 ${result.p50Ms.toFixed(1)} ms, p99 ${result.p99Ms.toFixed(1)} ms`);
}

async function withGateway(databaseUrl: string, pool: Pool): Promise<void> {
  const client = await addClient(pool, {
    name: 'bench',
    scopes: ['sets.write', 'system/Observation.rs'],
    source: { name: 'bench', attended: true },
  });
  if (client === null) throw new Error('the bench client could not be added');
  const gateway = spawn(process.execPath, ['--max-semi-space-size=64', here('../main.js')], {
    env: {
      ...process.env,
      DATABASE_URL: databaseUrl,
      DATABASE_SCHEMA: SCHEMA,
      PORT: '0',
      LOG_LEVEL: 'warn',
    },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  try {
    const url = await firstLine(gateway, /(http:\/\/127\.0\.0\.1:\d+)\n/);
    const bearer = await token(url, client.clientId, client.clientSecret);
    const base = {
      port: Number(new URL(url).port),
      token: bearer,
      patients: PATIENTS,
      connections: CONNECTIONS,
      seconds: SECONDS,
      rate: null,
    };
    const first = await fetch(`${url}/sets`, {
      method: 'POST',
      headers: { authorization: `Bearer ${bearer}`, 'content-type': 'application/json' },
      body: exampleBody(crypto.randomUUID(), 1, new Date()),
    });
    const answer = await first.text();
    const { readings } = JSON.parse(answer) as { readings: { observation: string }[] };
    const shown = await fetch(`${url}/fhir/${readings[4]?.observation ?? ''}`, {
      headers: { authorization: `Bearer ${bearer}` },
    });
    const pure = measurePurePath(await shown.text());
    await load({ ...base, seconds: 3 }); // warm
    const quiet = await load({ ...base, rate: 20 });
    const full = await load(base);
    const half = await load({ ...base, rate: full.perSecond / 2 });
    const bare = await measureBareRoute(answer, base);
    const inserts = await measureInserts(databaseUrl, SCHEMA);
    const slower = Math.min(bare.perSecond, inserts);
    row('normalise, rules and verdict of a set', `${pure.judgingUs.toFixed(1)} us`);
    row('JSON.parse of it, JSON.stringify of 7 Observations', `${pure.jsonUs.toFixed(1)} us`);
    row('ratio', (pure.judgingUs / pure.jsonUs).toFixed(2));
    row('gateway, acknowledged seven-reading sets', `${full.perSecond.toFixed(0)} /s`);
    if (full.refused > 0) row('  not answered 201', String(full.refused));
    row('(a) bare Express route', `${bare.perSecond.toFixed(0)} /s`);
    row('(b) bare inserts of the same rows', `${inserts.toFixed(0)} sets/s`);
    row('ratio to the slower', (full.perSecond / slower).toFixed(2));
    latency('at half that load', half);
    latency('at 20 sets a second', quiet);
    row(
      'observation table and indexes, bytes an observation',
      (await bytesAnObservation(pool)).toFixed(0),
    );
  } finally {
    gateway.kill('SIGTERM');
    await new Promise((resolve) => gateway.once('exit', resolve));
  }
}

const folder = await mkdtemp(join(tmpdir(), 'gateway-bench-'));
const server = await startEmbeddedServer(folder);
try {
  await migrate(server.databaseUrl, SCHEMA);
  const pool = openPool({
    databaseUrl: server.databaseUrl,
    schema: SCHEMA,
    maxConnections: 4,
    statementTimeoutMs: 120_000,
  });
  await registerPatients(pool);
  await withGateway(server.databaseUrl, pool);
  await pool.end();
} finally {
  await server.stop();
  await rm(folder, { recursive: true, force: true });
}
