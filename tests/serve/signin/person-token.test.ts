import { letPass } from '../../setup/clock.js';
import { oxygen, registerPatient, setOf } from '../../setup/example-sets.js';
import type { TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { registerPeople, visitAs } from '../../setup/people.js';
import type { Passwords, Visitor } from '../../setup/people.js';

interface PersonToken {
  readonly access_token: string;
  readonly expires_in: number;
  readonly scope: string;
  readonly person: { system: string; value: string; name: string };
}

let gateway: TestGateway;
let passwords: Passwords;
let patient: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway({}, { localSignIn: true });
  passwords = await registerPeople(gateway);
  patient = await registerPatient(gateway, 'LF-30001');
});
afterAll(() => gateway.close());
afterEach(() => jest.useRealTimers());

function askToken({ cookie, csrf }: Pick<Visitor, 'cookie' | 'csrf'>): Promise<Response> {
  return fetch(`${gateway.url}/signin/token`, {
    method: 'POST',
    headers: { cookie, 'x-csrf-token': csrf, accept: 'application/json' },
  });
}

async function tokenOf(visitor: Visitor): Promise<PersonToken> {
  return (await (await askToken(visitor)).json()) as PersonToken;
}

describe('a token of somebody signed in', () => {
  it("lasts five minutes, names the person and has the session's scopes", async () => {
    const token = await tokenOf(await visitAs(gateway, passwords, 'hazel'));
    expect(token).toMatchObject({
      expires_in: 300,
      scope: 'bedside',
      person: { system: 'urn:example:staff', value: 'N-311', name: 'Hazel Brook' },
    });
  });

  it('sends sets as that person, from the source of the bedside', async () => {
    const { access_token: token } = await tokenOf(await visitAs(gateway, passwords, 'hazel'));
    const sent = await gateway.ask('/sets', { token, body: setOf(patient, [oxygen(97)]) });
    expect(sent.status).toBe(201);
    const { rows } = await gateway.database.pool.query(
      `select s.name, s.attended, p.value as recorder, r.recorder_asserted as asserted
         from readings r join sources s using (source_key) join people p on p.person_key = r.recorder_key`,
    );
    expect(rows).toEqual([{ name: 'bedside', attended: true, recorder: 'N-311', asserted: false }]);
  });

  it('refuses a set in the name of somebody else', async () => {
    const { access_token: token } = await tokenOf(await visitAs(gateway, passwords, 'hazel'));
    const recorder = { identifier: { system: 'urn:example:staff', value: 'N-318' } };
    const sent = await gateway.ask<{ errors: unknown }>('/sets', {
      token,
      body: setOf(patient, [oxygen(97)], { recorder }),
    });
    expect([sent.status, sent.body.errors]).toEqual([
      400,
      [{ pointer: '/recorder', message: expect.any(String) as string }],
    ]);
  });

  it('allows no more than the role', async () => {
    const { access_token: token } = await tokenOf(await visitAs(gateway, passwords, 'hazel'));
    expect((await gateway.ask('/review/readings', { token })).status).toBe(403);
    expect((await gateway.ask('/fhir/Observation', { token })).status).toBe(403);
  });

  it('is given for the session’s own token only, and none when the session has ended', async () => {
    const visitor = await visitAs(gateway, passwords, 'hazel');
    expect((await askToken({ ...visitor, csrf: '' })).status).toBe(403);
    await visitor.post('/signin/out');
    expect((await askToken(visitor)).status).toBe(401);
  });

  it('ends with the client that stands for the pages', async () => {
    const { access_token: token } = await tokenOf(await visitAs(gateway, passwords, 'hazel'));
    await gateway.database.pool.query(
      `update sources set disabled_at = now() where name = 'bedside'`,
    );
    letPass(3_000);
    expect((await gateway.ask('/sets', { token, body: setOf(patient, [oxygen(97)]) })).status).toBe(
      401,
    );
    await gateway.database.pool.query(
      `update sources set disabled_at = null where name = 'bedside'`,
    );
  });

  it('ends no later than the session would', async () => {
    const visitor = await visitAs(gateway, passwords, 'hazel');
    for (let minutes = 0; minutes < 718; minutes += 28) {
      letPass(28 * 60_000 > (718 - minutes) * 60_000 ? (718 - minutes) * 60_000 : 28 * 60_000);
      await visitor.get('/desk');
    }
    const { expires_in: seconds } = await tokenOf(visitor);
    expect(seconds).toBeLessThanOrEqual(120);
    expect(seconds).toBeGreaterThan(60);
  });
});

describe('the client of the pages', () => {
  it('gets no token by itself, by whatever proof', async () => {
    const form = new URLSearchParams({ grant_type: 'client_credentials' });
    const authorization = `Basic ${Buffer.from('pages:').toString('base64')}`;
    const answer = await fetch(`${gateway.url}/auth/token`, {
      method: 'POST',
      headers: { authorization },
      body: form,
    });
    expect(answer.status).toBe(401);
  });
});
