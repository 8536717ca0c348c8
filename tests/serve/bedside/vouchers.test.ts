/** Sets that the next person at a device hands in for the one who took them. */
import { decodeJwt, SignJWT } from 'jose';
import { atBedside } from '../../setup/bedside.js';
import type { BedsidePerson } from '../../setup/bedside.js';
import { oxygen, pressure, registerPatient, setOf } from '../../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { registerPeople } from '../../setup/people.js';

interface Submission {
  readonly person: unknown;
  readonly sentBy: unknown;
  readonly client: string;
}
interface Reading {
  readonly recorder: unknown;
  readonly recorderAsserted: boolean;
}

let gateway: TestGateway;
let patient: TestPatient;
let taker: BedsidePerson;
let next: BedsidePerson;
let analyst: string;

beforeAll(async () => {
  gateway = await openTestGateway({}, { localSignIn: true });
  const passwords = await registerPeople(gateway);
  patient = await registerPatient(gateway, 'LF-20417', '1958-11-02');
  taker = await atBedside(gateway, passwords, 'hazel');
  next = await atBedside(gateway, passwords, 'tobias');
  analyst = await gateway.token('review.read');
});
afterAll(() => gateway.close());

const handIn = async (set: object, voucher: string) =>
  next.send<SetAnswer>(set, { 'Taken-By': voucher });
const submission = async (id: string) =>
  (await gateway.ask<Submission>(`/review/submissions/${id}`, { token: analyst })).body;
const reading = async (id: string) =>
  (await gateway.ask<Reading>(`/review/readings/${id}`, { token: analyst })).body;

describe('a set with the voucher of its taker', () => {
  it("is the taker's, sent by the one who is signed in, and not asserted", async () => {
    const set = setOf(patient, [oxygen(96)]);
    const { status, body } = await handIn(set, await taker.voucher());
    expect(status).toBe(201);
    expect(await submission(body.submission)).toMatchObject({
      client: 'pages',
      person: taker.identifier,
      sentBy: next.identifier,
    });
    const [first] = body.readings;
    expect(await reading(first?.reading ?? '')).toMatchObject({
      recorder: taker.identifier,
      recorderAsserted: false,
    });
  });

  it('is on record as the act of the one who sent it', async () => {
    const { body } = await handIn(setOf(patient, [oxygen(95)]), await taker.voucher());
    const { rows } = await gateway.database.pool.query<{ value: string }>(
      `select p.value from audit a join people p using (person_key) where a.entity = $1`,
      [`submissions/${body.submission}`],
    );
    expect(rows).toEqual([{ value: next.identifier.value }]);
  });

  it('is the very same set as the one that its taker sent before, or sends after', async () => {
    const set = setOf(patient, [pressure('oscillometry', 121, 79)]);
    const first = await taker.send<SetAnswer>(set);
    const again = await handIn(set, await taker.voucher());
    expect(again.headers.get('repeat')).toBe('true');
    expect(again.body).toEqual(first.body);
    expect(await submission(first.body.submission)).toMatchObject({
      person: taker.identifier,
      sentBy: null,
    });
  });

  it('can be corrected by its taker and by nobody else at the pages', async () => {
    const set = setOf(patient, [oxygen(94)]);
    await handIn(set, await taker.voucher());
    const path = `/sets/${set.setId}/readings/0/decisions`;
    const body = {
      ...{ action: 'correct', reason: 'Read upside down', reasonCode: 'entry-error' },
      ...{ expectedVersion: 1, reading: oxygen(97) },
    };
    const refused = await gateway.ask(path, { token: next.token, body });
    expect(refused.status).toBe(404);
    expect((await gateway.ask(`/sets/${set.setId}`, { token: next.token })).status).toBe(404);
    const done = await gateway.ask<SetAnswer>(path, { token: taker.token, body });
    expect(done.status).toBe(200);
    expect(done.body.readings[0]).toMatchObject({ value: 97, version: 2 });
  });

  it('stands among the own sets of its taker only', async () => {
    const set = setOf(patient, [oxygen(93)]);
    await handIn(set, await taker.voucher());
    const list = async (token: string) =>
      (
        await gateway.ask<{ sets: SetAnswer[] }>('/sets?changedSince=2026-01-01T00:00:00Z', {
          token,
        })
      ).body.sets.map(({ setId }) => setId);
    expect(await list(taker.token)).toContain(set.setId);
    expect(await list(next.token)).not.toContain(set.setId);
  });

  it('is an own set where the voucher is the own one', async () => {
    const { body } = await next.send<SetAnswer>(setOf(patient, [oxygen(92)]), {
      'Taken-By': await next.voucher(),
    });
    expect(await submission(body.submission)).toMatchObject({
      person: next.identifier,
      sentBy: null,
    });
  });
});

describe('a voucher', () => {
  it('is good for a week and is no access token', async () => {
    const voucher = await taker.voucher();
    const { exp = 0, iat = 0 } = decodeJwt(voucher);
    expect(exp - iat).toBe(7 * 24 * 60 * 60);
    for (const path of ['/sets?changedSince=2026-01-01T00:00:00Z', '/bedside/site']) {
      expect((await gateway.ask(path, { token: voucher })).status).toBe(401);
    }
  });

  it('is not made for a program', async () => {
    const token = await gateway.token('bedside');
    const answer = await gateway.ask('/bedside/vouchers', { method: 'POST', token });
    expect(answer.status).toBe(403);
  });

  it.each([
    ['that is an access token', () => Promise.resolve(taker.token)],
    ['that nobody signed', () => Promise.resolve('abc')],
    [
      'that others signed',
      async () => {
        const claims = decodeJwt(await taker.voucher());
        return new SignJWT(claims)
          .setProtectedHeader({ alg: 'HS256', typ: 'set-voucher+jwt' })
          .sign(Buffer.from('0123456789abcdef0123456789abcdef'));
      },
    ],
    ['that is empty', () => Promise.resolve('')],
  ])('%s is refused, and nothing is kept', async (_name, make) => {
    const set = setOf(patient, [oxygen(91)]);
    const answer = await handIn(set, await make());
    expect(answer.status).toBe(403);
    expect(answer.text).toContain('The person who took the set has to sign in');
    expect((await gateway.ask(`/sets/${set.setId}`, { token: taker.token })).status).toBe(404);
    expect((await taker.send(set)).status).toBe(201);
  });

  it('is of no use to a program, whatever its scopes', async () => {
    const token = await gateway.token('sets.write bedside');
    const answer = await gateway.ask('/sets', {
      ...{ token, body: setOf(patient, [oxygen(90)]) },
      headers: { 'Taken-By': await taker.voucher() },
    });
    expect(answer.status).toBe(403);
  });

  it('goes with one set at a time', async () => {
    const answer = await gateway.ask('/sets', {
      ...{ token: next.token, body: JSON.stringify(setOf(patient, [oxygen(90)])) },
      headers: { 'Taken-By': await taker.voucher(), 'content-type': 'application/x-ndjson' },
    });
    expect(answer.status).toBe(400);
  });
});
