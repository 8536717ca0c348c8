import type { Credentials } from '../../../src/store/clients.js';
import { openTestDatabase } from '../../setup/database.js';
import type { TestDatabase } from '../../setup/database.js';
import { askToken, basic, registerClient, reply, signIn, startApp } from '../http/start-app.js';
import type { RunningApp } from '../http/start-app.js';

const SET = '0190a2c4-0000-4000-8000-000000000005';

let database: TestDatabase;
let app: RunningApp;
let admin: Record<string, string>;

beforeAll(async () => {
  database = await openTestDatabase();
  app = await startApp(database, {
    pipeline: { findSet: () => Promise.resolve(reply(200, {})) },
  });
  admin = await signIn(app.url, await registerClient(database, ['admin']));
});

afterAll(async () => {
  await app.stop();
  await database.close();
});

async function send(method: string, path: string, body?: unknown): Promise<Response> {
  return fetch(`${app.url}/admin/clients${path}`, {
    method,
    headers: { ...admin, 'content-type': 'application/json' },
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  });
}

// The last letter is outside the basic plane: half of it alone would be refused.
const DEVICE = {
  name: 'Monitor 7 𝔐',
  scopes: ['sets.write', 'system/Observation.c'],
  source: { name: 'larkfield-monitors', attended: false },
};

async function add(): Promise<Credentials> {
  const response = await send('POST', '', DEVICE);
  expect(response.status).toBe(201);
  return (await response.json()) as Credentials;
}

describe('/admin/clients', () => {
  it('adds a client that can get a token, and lists it without any secret', async () => {
    const added = await add();
    expect((await askToken(app.url, basic(added))).status).toBe(200);
    const list = await send('GET', '');
    const text = await list.text();
    expect(text).not.toMatch(/secret/i);
    const { clients } = JSON.parse(text) as { clients: { clientId: string }[] };
    expect(clients.find(({ clientId }) => clientId === added.clientId)).toEqual({
      clientId: added.clientId,
      ...DEVICE,
      keys: null,
      externalId: null,
      createdAt: expect.any(String) as string,
      disabledAt: null,
      endsAt: null,
    });
  });

  it('keeps only a hash of a secret', async () => {
    const { clientSecret } = await add();
    const { rows } = await database.pool.query('select * from clients');
    expect(JSON.stringify(rows)).not.toContain(clientSecret);
    expect(Buffer.from(clientSecret, 'base64url')).toHaveLength(32);
  });

  it.each([
    [{}, ['/name', '/scopes', '/source']],
    [{ ...DEVICE, scopes: ['sets.write', 'sets.own'] }, ['/scopes/1']],
    [{ ...DEVICE, scopes: [] }, ['/scopes']],
    [{ ...DEVICE, name: ' ' }, ['/name']],
    [{ ...DEVICE, name: 'Monitor\u0000' }, ['/name']],
    [{ ...DEVICE, source: { ...DEVICE.source, name: '\ud800' } }, ['/source/name']],
    [{ ...DEVICE, source: { name: 'x' } }, ['/source/attended']],
    [{ ...DEVICE, secret: 'mine' }, ['']],
    [[], ['']],
  ])('refuses %j and says where the fault is', async (body, pointers) => {
    const response = await send('POST', '', body);
    expect(response.status).toBe(400);
    const { errors } = (await response.json()) as { errors: { pointer: string }[] };
    expect(errors.map(({ pointer }) => pointer)).toEqual(pointers);
  });

  it('refuses what is no JSON, and a source that is attended in another way', async () => {
    const broken = await fetch(`${app.url}/admin/clients`, {
      method: 'POST',
      headers: { ...admin, 'content-type': 'application/json' },
      body: '{',
    });
    expect(broken.status).toBe(400);
    await add();
    const other = { ...DEVICE, source: { ...DEVICE.source, attended: true } };
    expect((await send('POST', '', other)).status).toBe(409);
  });

  it('rotates: the new secret works, the old one does not', async () => {
    const old = await add();
    const rotated = (await (await send('POST', `/${old.clientId}/rotate`)).json()) as Credentials;
    expect((await askToken(app.url, basic(rotated))).status).toBe(200);
    expect((await askToken(app.url, basic(old))).status).toBe(401);
  });

  it('disables at once, and enables again', async () => {
    const client = await add();
    const headers = await signIn(app.url, client);
    const status = async (): Promise<number> =>
      (await fetch(`${app.url}/sets/${SET}`, { headers })).status;
    expect(await status()).toBe(200);
    expect((await send('POST', `/${client.clientId}/disable`)).status).toBe(204);
    expect(await status()).toBe(401);
    expect((await askToken(app.url, basic(client))).status).toBe(401);
    expect((await send('POST', `/${client.clientId}/enable`)).status).toBe(204);
    expect(await status()).toBe(200);
  });

  it('gives a client an end, and takes it away', async () => {
    const client = await add();
    const end = async (endsAt: unknown): Promise<number> =>
      (await send('PUT', `/${client.clientId}/end`, { endsAt })).status;
    expect(await end('2020-01-01T00:00:00+01:00')).toBe(204);
    expect((await askToken(app.url, basic(client))).status).toBe(401);
    for (const far of ['0000-01-01T00:00:00+14:00', '9999-12-31T23:59:59-14:00']) {
      expect(await end(far)).toBe(204);
      expect((await send('GET', '')).status).toBe(200);
    }
    expect(await end(null)).toBe(204);
    expect((await askToken(app.url, basic(client))).status).toBe(200);
    for (const wrong of ['tomorrow', '2020-02-30T00:00:00Z', 5]) expect(await end(wrong)).toBe(400);
  });

  it('knows no client that is not there', async () => {
    for (const id of [SET, 'absent', '%00']) {
      for (const verb of ['rotate', 'disable', 'enable']) {
        expect((await send('POST', `/${id}/${verb}`)).status).toBe(404);
      }
      expect((await send('PUT', `/${id}/end`, { endsAt: null })).status).toBe(404);
    }
  });

  it('is for administrators, and leaves a line in the audit trail', async () => {
    const sender = await signIn(app.url, await registerClient(database, ['sets.write']));
    const refused = await fetch(`${app.url}/admin/clients`, { headers: sender });
    expect(refused.status).toBe(403);
    const { clientId } = await add();
    await send('POST', `/${clientId}/disable`);
    const { rows } = await database.pool.query(
      'select action, outcome from audit where entity = $1 order by audit_id',
      [`clients/${clientId}`],
    );
    expect(rows).toEqual([
      { action: 'client-add', outcome: 201 },
      { action: 'client-disable', outcome: 204 },
    ]);
  });
});
