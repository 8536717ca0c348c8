/** What must hold whatever is asked: nothing of a patient in the log, and no question without an end. */
import { allowedActions } from '../../../src/verdict/decision-table.js';
import { reviewArea } from '../../../src/serve/review/routes.js';
import { Names } from '../../../src/store/names.js';
import { openPool } from '../../../src/store/pool.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { registerClient, signIn, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';
import { auditRows } from '../../setup/audit-rows.js';

let database: TestDatabase;
let hasty: ReturnType<typeof openPool>;
let app: RunningApp;
let headers: Record<string, string>;

beforeAll(async () => {
  database = await openTestDatabase();
  hasty = openPool({ ...database, maxConnections: 4, statementTimeoutMs: 300 });
  const pipeline = { decideReading: () => Promise.reject(new Error('not used')) };
  const names = new Names(hasty);
  app = await startApp(database, {
    areas: [
      reviewArea({
        pool: hasty,
        names,
        pipeline,
        allowedActions,
        onPatientsChanged: () => undefined,
        replay: () => Promise.resolve(null),
      }),
    ],
  });
  const client = await registerClient(database, ['review.read']);
  headers = { ...(await signIn(app.url, client)), 'content-type': 'application/json' };
});
afterAll(async () => {
  await app.stop();
  await hasty.end();
  await database.close();
});

describe('the log', () => {
  it('has the roads that were asked, and nothing of a patient', async () => {
    const value = 'LF-4711-0815';
    const body = JSON.stringify({ patient: { system: 'urn:example:mrn', value } });
    const found = await fetch(`${app.url}/review/readings/_search`, {
      method: 'POST',
      headers,
      body,
    });
    expect(found.status).toBe(200);
    const inAddress = `${app.url}/review/readings?patient=urn:example:mrn%7C${value}`;
    expect((await fetch(inAddress, { headers })).status).toBe(400);
    const wrong = `${app.url}/review/readings/${value}`;
    expect((await fetch(wrong, { headers })).status).toBe(404);
    const log = app.log();
    expect(log).toContain('/review/readings/_search');
    expect(log).toContain('/review/readings/:id');
    expect(log).not.toContain(value);
    await auditRows(database.pool, "action like 'review-%'", [], 3);
    const { rows } = await database.pool.query<{ line: string }>(
      'select a::text as line from audit a',
    );
    expect(rows.length).toBeGreaterThan(2);
    expect(rows.map(({ line }) => line).join()).not.toContain(value);
  });
});

describe('a search that the database does not get through in time', () => {
  it.each(['/review/readings', '/review/submissions'])(
    'is refused with a way out: %s',
    async (path) => {
      const blocker = await database.pool.connect();
      try {
        await blocker.query('begin; lock table readings, submissions in access exclusive mode');
        const answer = await fetch(`${app.url}${path}`, { headers });
        expect([answer.status, answer.headers.get('content-type')]).toEqual([
          422,
          'application/problem+json',
        ]);
        expect(await answer.text()).toContain('Narrow it');
      } finally {
        await blocker.query('rollback');
        blocker.release();
      }
      expect((await fetch(`${app.url}${path}`, { headers })).status).toBe(200);
    },
  );
});
