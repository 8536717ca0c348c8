import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { createMetrics } from '../../../src/serve/operations/metrics.js';
import { readFeedTimes } from '../../../src/store/feed-state.js';
import { openPool } from '../../../src/store/pool.js';
import { registerClient, reply, signIn, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';

const SET = '0190a2c4-0000-4000-8000-000000000004';

let database: TestDatabase;
let app: RunningApp;
let headers: Record<string, string>;
let metrics: ReturnType<typeof createMetrics>;

beforeAll(async () => {
  database = await openTestDatabase();
  metrics = createMetrics(() => readFeedTimes(database.pool));
  app = await startApp(database, {
    metrics,
    pipeline: { findSet: () => Promise.resolve(reply(200, {})) },
  });
  headers = await signIn(app.url, await registerClient(database, ['metrics.read', 'sets.write']));
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

async function scrape(): Promise<string> {
  const response = await fetch(`${app.url}/metrics`, { headers });
  expect(response.headers.get('content-type')).toContain('text/plain');
  return response.text();
}

/** The value of one sample of the Prometheus text format. */
function sample(text: string, name: string): number {
  const line = text.split('\n').find((one) => one.startsWith(`${name} `));
  return Number(line?.slice(name.length + 1));
}

describe('health', () => {
  it('is live and ready with a migrated database', async () => {
    expect((await fetch(`${app.url}/health/live`)).status).toBe(200);
    expect(await (await fetch(`${app.url}/health/ready`)).json()).toEqual({ status: 'ready' });
  });

  it.each([
    ['nobody listens', (url: URL) => (url.port = '1'), 'does not answer'],
    ['the schema has no tables', (url: URL) => (url.pathname = '/postgres'), 'migrate'],
  ])('is live but not ready when %s', async (_name, change, words) => {
    const url = new URL(database.databaseUrl);
    change(url);
    const { schema } = database;
    const pool = openPool({ databaseUrl: url.href, schema, maxConnections: 1 });
    const broken = await startApp({ ...database, pool });
    expect((await fetch(`${broken.url}/health/live`)).status).toBe(200);
    const ready = await fetch(`${broken.url}/health/ready`);
    expect(ready.status).toBe(503);
    const { away } = (await ready.json()) as { away: string[] };
    expect(away.join()).toContain(words);
    await broken.stop();
    await pool.end();
  });

  it('is not ready when the database takes too long, and ready again when it answers', async () => {
    const { databaseUrl, schema } = database;
    const pool = openPool({ databaseUrl, schema, maxConnections: 1 });
    const slow = await startApp({ ...database, pool });
    const only = await pool.connect();
    const askedMs = Date.now();
    expect((await fetch(`${slow.url}/health/ready`)).status).toBe(503);
    // Far below the five seconds after which the pool itself gives up.
    expect(Date.now() - askedMs).toBeLessThan(4_000);
    only.release();
    expect((await fetch(`${slow.url}/health/ready`)).status).toBe(200);
    await slow.stop();
    await pool.end();
  });
});

describe('metrics', () => {
  it('need a scope', async () => {
    expect((await fetch(`${app.url}/metrics`)).status).toBe(401);
    const sender = await signIn(app.url, await registerClient(database, ['sets.write']));
    expect((await fetch(`${app.url}/metrics`, { headers: sender })).status).toBe(403);
  });

  it('count requests by pattern and status, refused ones too, and hold no address', async () => {
    await fetch(`${app.url}/sets/${SET}?name=Larkin`, { headers });
    await fetch(`${app.url}/sets/${SET}`);
    await fetch(`${app.url}/unknown/Larkin`);
    const text = await scrape();
    const requests = (status: number, route = '/sets/:setId'): number =>
      sample(text, `gateway_http_requests_total{method="GET",route="${route}",status="${status}"}`);
    expect(requests(200)).toBeGreaterThanOrEqual(1);
    expect(requests(401)).toBeGreaterThanOrEqual(1);
    expect(requests(404, 'none')).toBeGreaterThanOrEqual(1);
    expect(text).not.toContain('Larkin');
    expect(text).not.toContain(SET);
  });

  it('count what the pipeline tells', async () => {
    metrics.countSubmission('201');
    metrics.countReading('held');
    metrics.countReading('held');
    metrics.countFinding('blood-pressure-methods-disagree');
    metrics.countRuleFailure('blood-pressure-methods-disagree');
    metrics.observeCommit(3, 0.004);
    const text = await scrape();
    expect(sample(text, 'gateway_submissions_total{outcome="201"}')).toBe(1);
    expect(sample(text, 'gateway_readings_total{verdict="held"}')).toBe(2);
    const rule = '{rule="blood-pressure-methods-disagree"}';
    expect(sample(text, `gateway_findings_total${rule}`)).toBe(1);
    expect(sample(text, `gateway_rule_failures_total${rule}`)).toBe(1);
    expect(sample(text, 'gateway_commit_sets_bucket{le="4"}')).toBe(1);
    expect(sample(text, 'gateway_commit_sets_bucket{le="2"}')).toBe(0);
    expect(sample(text, 'gateway_commit_seconds_sum')).toBeCloseTo(0.004);
  });

  it('tell the age of the oldest hold, and how late the latest deadline is', async () => {
    expect(sample(await scrape(), 'gateway_oldest_hold_age_seconds')).toBe(0);
    expect(sample(await scrape(), 'gateway_feed_lag_seconds')).toBe(0);
    const tenMinutesAgo = Date.now() - 600_000;
    const hex = tenMinutesAgo.toString(16).padStart(12, '0');
    const id = `${hex.slice(0, 8)}-${hex.slice(8)}-7000-8000-000000000001`;
    await database.pool.query(
      `with patient as (
         insert into patients (patient_id) values ($1) returning patient_key)
       insert into readings (patient_key, identifier_key, effective_at, stamp, reading_id,
                             hold_until, source_key, vital, verdict, hold, version, edition,
                             offset_minutes)
       select patient_key, 1, now(), now(), $1, now() - interval '30 s', 1, 'pulse-rate', 'held',
              'value', 1, 1, 0 from patient`,
      [id],
    );
    await database.pool.query('update publication_clock set last_stamp = to_timestamp(1772349300)');
    const text = await scrape();
    const age = sample(text, 'gateway_oldest_hold_age_seconds');
    expect(age).toBeGreaterThanOrEqual(600);
    expect(age).toBeLessThan(660);
    const lag = sample(text, 'gateway_feed_lag_seconds');
    expect(lag).toBeGreaterThanOrEqual(30);
    expect(lag).toBeLessThan(90);
    expect(sample(text, 'gateway_last_publication_timestamp_seconds')).toBe(1772349300);
  });

  it('are there when the database is not', async () => {
    const broken = createMetrics(() => Promise.reject(new Error('away')));
    const text = await broken.registry.metrics();
    expect(text).toContain('gateway_feed_lag_seconds Nan');
    expect(text).toContain('process_cpu_seconds_total');
  });
});
