import { connect, createServer } from 'node:net';
import type { AddressInfo, Server, Socket } from 'node:net';
import { pino } from 'pino';
import { readConfig } from '../../src/config/config.js';
import { createGateway } from '../../src/compose/gateway.js';
import type { Gateway } from '../../src/compose/gateway.js';
import { openPool } from '../../src/store/pool.js';
import type { Pool } from '../../src/store/pool.js';
import { minutesAgo, oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer } from '../setup/example-sets.js';
import { askAt, openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

/** A cable to the database that can be pulled. */
class Cable {
  #pulled = false;
  readonly #sockets = new Set<Socket>();
  readonly #server: Server;

  constructor(databasePort: number) {
    this.#server = createServer((near) => {
      if (this.#pulled) {
        near.destroy();
        return;
      }
      const far = connect(databasePort, '127.0.0.1');
      for (const socket of [near, far]) {
        this.#sockets.add(socket);
        socket.on('error', () => undefined);
        socket.on('close', () => {
          this.#sockets.delete(socket);
          near.destroy();
          far.destroy();
        });
      }
      near.pipe(far).pipe(near);
    });
  }

  async listen(): Promise<number> {
    await new Promise<void>((resolve) => this.#server.listen(0, '127.0.0.1', resolve));
    return (this.#server.address() as AddressInfo).port;
  }

  pull(): void {
    this.#pulled = true;
    for (const socket of this.#sockets) socket.destroy();
  }

  plugIn(): void {
    this.#pulled = false;
  }

  async close(): Promise<void> {
    this.pull();
    await new Promise((resolve) => this.#server.close(resolve));
  }
}

const PUBLIC_URL = 'http://127.0.0.1:8080';
let home: TestGateway;
let cable: Cable;
let gateway: Gateway;
let pool: Pool;
let url: string;
let token: string;

beforeAll(async () => {
  home = await openTestGateway({ PUBLIC_URL });
  token = await home.token('sets.write');
  const through = new URL(home.database.databaseUrl);
  cable = new Cable(Number(through.port));
  through.port = String(await cable.listen());
  pool = openPool({ databaseUrl: through.href, schema: home.database.schema, maxConnections: 8 });
  const config = readConfig({ PORT: '0', DATABASE_URL: through.href, PUBLIC_URL });
  gateway = createGateway(config, pool, pino({ level: 'silent' }));
  url = `http://127.0.0.1:${(await gateway.listen()).port}`;
});
afterAll(async () => {
  await gateway.stop();
  await pool.end();
  await cable.close();
  await home.close();
});

describe('when the database is away', () => {
  it('nothing is answered 2xx, readiness turns red, and everything recovers by itself', async () => {
    const patient = await registerPatient(home, 'LF-38001');
    const before = setOf(patient, [oxygen(97)]);
    expect((await askAt(`${url}/sets`, { body: before, token })).status).toBe(201);
    expect((await askAt(`${url}/health/ready`, {})).status).toBe(200);

    cable.pull();
    const during = setOf(patient, [oxygen(98)]);
    const refused = await askAt(`${url}/sets`, { body: during, token });
    expect(refused.status).toBe(503);
    expect(Number(refused.headers.get('retry-after'))).toBeGreaterThan(0);
    expect(refused.headers.get('content-type')).toMatch(/problem\+json/);
    expect((await askAt(`${url}/health/ready`, {})).status).toBe(503);
    expect((await askAt(`${url}/health/live`, {})).status).toBe(200);

    cable.plugIn();
    const after = await askAt<SetAnswer>(`${url}/sets`, { body: during, token });
    expect(after.status).toBe(201);
    expect((await askAt(`${url}/health/ready`, {})).status).toBe(200);
    expect((await askAt<SetAnswer>(`${url}/sets/${before.setId}`, { token })).body.verdict).toBe(
      'accepted',
    );
  });

  it('cut in the middle of many sets: each is answered, and each 201 is on disk', async () => {
    const patient = await registerPatient(home, 'LF-38002');
    const sets = Array.from({ length: 120 }, (_, n) =>
      setOf(patient, [oxygen(97)], { takenAt: minutesAgo(1 + n / 60) }),
    );
    const sending = sets.map((body) => askAt(`${url}/sets`, { body, token }));
    await new Promise((resolve) => setTimeout(resolve, 60));
    cable.pull();
    const answers = await Promise.all(sending);
    cable.plugIn();
    for (const answer of answers) expect([201, 503]).toContain(answer.status);
    for (const [n, answer] of answers.entries()) {
      if (answer.status !== 201) continue;
      const setId = sets[n]?.setId ?? '';
      expect((await askAt(`${url}/sets/${setId}`, { token })).status).toBe(200);
    }
    // What was answered 503 may be on disk or not; sent again it is there once.
    for (const body of sets) {
      expect((await askAt(`${url}/sets`, { body, token })).status).toBe(201);
    }
    const { rows } = await home.database.pool.query<{ n: number }>(
      'select count(*) as n from readings where set_id = any($1)',
      [sets.map((set) => set.setId)],
    );
    expect(rows[0]?.n).toBe(sets.length);
  });
});
