import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { STRICTER, twoPressures } from '../serve/rules/site-configuration.js';
import { registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

const PUBLIC_URL = 'http://127.0.0.1:1';
const SENDERS = 6;

/** Two gateways on one database, and an edition that one of them puts into force while both take sets. */
let one: TestGateway;
let other: { gateway: Gateway; pool: Pool; url: string };

beforeAll(async () => {
  one = await openTestGateway({ PUBLIC_URL });
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const config = readConfig({ PORT: '0', DATABASE_URL: databaseUrl, PUBLIC_URL });
  const gateway = createGateway(config, pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  other = { gateway, pool, url: `http://127.0.0.1:${port}` };
});
afterAll(async () => {
  await other.gateway.stop();
  await other.pool.end();
  await one.close();
});

async function bytesOf(ids: readonly string[], token: string): Promise<string[]> {
  const answers = await Promise.all(
    ids.map((id) => askAt(`${other.url}/fhir/Observation/${id}/_history/1`, { token })),
  );
  return answers.map(({ status, text }) => `${status} ${text}`);
}

async function approve(): Promise<number> {
  const proposed = await one.ask<{ edition: string }>('/rules/editions', {
    token: await one.token('rules.write'),
    body: { configuration: STRICTER, reason: 'The two methods lie nearer together here.' },
  });
  const approved = await one.ask<{ inForceFrom: string }>(
    `/rules/editions/${proposed.body.edition}/approve`,
    { token: await one.token('rules.approve'), body: { reason: 'Agreed.' } },
  );
  return Date.parse(approved.body.inForceFrom);
}

it('each set is judged by the edition in force at its receipt, in every process, and versions stay', async () => {
  const token = await one.token('sets.write');
  const record = await one.token('system/*.rs');
  const patients: TestPatient[] = [];
  for (let i = 0; i < SENDERS; i += 1) patients.push(await registerPatient(one, `LF-4200${i}`));
  let sending = true;
  const answers: SetAnswer[] = [];
  const senders = patients.map(async (patient, i) => {
    for (let n = 0; sending; n += 1) {
      const url = (i + n) % 2 === 0 ? one.url : other.url;
      // Apart in time, so that each set is held against itself alone.
      const takenAt = new Date(Date.now() - (n + 1) * 3_600_000).toISOString();
      const body = setOf(patient, twoPressures(110 + (n % 20)), { takenAt });
      answers.push((await askAt<SetAnswer>(`${url}/sets`, { body, token })).body);
    }
  });
  const fromMs = await approve();
  const early = answers.flatMap(({ readings }) => readings.map(({ reading }) => reading));
  const bytes = await bytesOf(early.slice(0, 10), record);
  await new Promise((resolve) => setTimeout(resolve, fromMs - Date.now() + 300));
  sending = false;
  await Promise.all(senders);

  const { rows } = await one.database.pool.query<{ set_id: string; received_at: Date }>(
    'select set_id, received_at from submissions where holds_key',
  );
  const receivedMs = new Map(rows.map((row) => [row.set_id, row.received_at.getTime()]));
  const wrong = answers.filter(({ setId, edition, verdict }) => {
    const later = (receivedMs.get(setId) ?? 0) >= fromMs;
    return edition !== (later ? '2' : '1') || verdict !== (later ? 'held' : 'noted');
  });
  expect(wrong).toEqual([]);
  expect(new Set(answers.map(({ edition }) => edition))).toEqual(new Set(['1', '2']));
  expect(bytes[0]).toMatch(/^200 /);
  expect(await bytesOf(early.slice(0, 10), record)).toEqual(bytes);
});
