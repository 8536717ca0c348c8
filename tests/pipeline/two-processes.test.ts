import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

/** Two gateways on one database: what one process knows, the other must see. */
let one: TestGateway;
let other: { gateway: Gateway; pool: Pool; url: string };
let token: string;

beforeAll(async () => {
  // Tokens are for one public address, whichever process a balancer sends them to.
  one = await openTestGateway({ PUBLIC_URL: 'http://127.0.0.1:1' });
  const { databaseUrl, schema } = one.database;
  const pool = openPool({ databaseUrl, schema, maxConnections: 8 });
  const config = readConfig({
    PORT: '0',
    DATABASE_URL: databaseUrl,
    PUBLIC_URL: 'http://127.0.0.1:1',
  });
  const gateway = createGateway(config, pool, pino({ level: 'silent' }));
  const { port } = await gateway.listen();
  other = { gateway, pool, url: `http://127.0.0.1:${port}` };
  token = await one.token('sets.write');
});
afterAll(async () => {
  await other.gateway.stop();
  await other.pool.end();
  await one.close();
});

describe('two sets of one patient at the same moment, to two processes', () => {
  it('are always cross-checked: exactly one of them sees the other', async () => {
    for (let round = 0; round < 25; round += 1) {
      const patient = await registerPatient(one, `LF-36${String(100 + round)}`);
      const byHand = setOf(patient, [pressure('auscultation', 118, 76)]);
      const byCuff = setOf(patient, [pressure('oscillometry', 159, 97)]);
      const answers = await Promise.all([
        one.ask<SetAnswer>('/sets', { body: byHand, token }),
        askAt<SetAnswer>(`${other.url}/sets`, { body: byCuff, token }),
      ]);
      const verdicts = answers.map((answer) => answer.body.verdict).sort();
      expect(verdicts).toEqual(['accepted', 'held']);
    }
  });

  it('with one key are one set', async () => {
    const patient = await registerPatient(one, 'LF-36999');
    const body = setOf(patient, [pressure('auscultation', 118, 76)]);
    const answers = await Promise.all(
      [one.url, other.url, one.url, other.url].map((url) =>
        askAt<SetAnswer>(`${url}/sets`, { body, token }),
      ),
    );
    expect(new Set(answers.map((answer) => answer.text)).size).toBe(1);
    const { rows } = await one.database.pool.query<{ n: number }>(
      'select count(*) as n from readings where set_id = $1',
      [body.setId],
    );
    expect(rows[0]?.n).toBe(1);
  });
});
