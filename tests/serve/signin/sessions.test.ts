import { createHash } from 'node:crypto';
import { auditRows } from '../../setup/audit-rows.js';
import { letPass } from '../../setup/clock.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { cookieOf, registerPeople, sendForm, visitAs } from '../../setup/people.js';
import type { Passwords } from '../../setup/people.js';

const MINUTE_MS = 60_000;

let gateway: TestGateway;
let passwords: Passwords;

beforeAll(async () => {
  gateway = await openTestGateway({ SESSION_HOURS: '1' }, { localSignIn: true });
  passwords = await registerPeople(gateway);
});
afterAll(() => gateway.close());
afterEach(() => jest.useRealTimers());

/** As a browser opens a page, without a session of its own. */
function open(path: string, headers: Readonly<Record<string, string>> = {}): Promise<Response> {
  return fetch(`${gateway.url}${path}`, {
    redirect: 'manual',
    headers: { accept: 'text/html', ...headers },
  });
}

describe('a session', () => {
  it('has an id of 256 bits in a cookie that scripts cannot read, and only its hash is kept', async () => {
    const answer = await sendForm(`${gateway.url}/signin`, {
      login: 'ines',
      password: passwords('ines'),
    });
    expect(answer.headers.get('set-cookie')).toMatch(
      /^session=[A-Za-z0-9_-]{43}; Path=\/; HttpOnly; SameSite=Lax$/,
    );
    const id = cookieOf(answer).slice('session='.length);
    const { rows } = await gateway.database.pool.query<{ row: string }>(
      'select s::text as row, session_sha256 from sessions s where session_sha256 = $1',
      [createHash('sha256').update(id).digest()],
    );
    expect(rows).toHaveLength(1);
    expect(JSON.stringify(rows)).not.toContain(id);
  });

  it('is a fresh one at each sign-in, and the one that the browser came with is ended', async () => {
    const before = await visitAs(gateway, passwords, 'ines');
    const again = await sendForm(
      `${gateway.url}/signin`,
      { login: 'ines', password: passwords('ines') },
      { cookie: before.cookie },
    );
    expect(cookieOf(again)).not.toBe(before.cookie);
    expect((await before.get('/desk')).status).toBe(303);
  });

  it('is never one that somebody else has chosen', async () => {
    const planted = `session=${'A'.repeat(43)}`;
    const answer = await sendForm(
      `${gateway.url}/signin`,
      { login: 'ines', password: passwords('ines') },
      { cookie: planted },
    );
    expect(answer.status).toBe(303);
    expect(cookieOf(answer)).not.toBe(planted);
    expect((await open('/desk', { cookie: planted })).status).toBe(303);
  });

  it.each([
    'session=',
    'session=short',
    `session=${'%00'.repeat(20)}`,
    `session=${'x'.repeat(9000)}`,
    `session=${'A'.repeat(43)}; session=${'B'.repeat(43)}`,
  ])('is not found by the cookie %.30s', async (cookie) => {
    expect((await open('/desk', { cookie })).status).toBe(303);
  });

  it('ends half an hour after the last request, and not before', async () => {
    const visitor = await visitAs(gateway, passwords, 'ines');
    letPass(20 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(200);
    letPass(20 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(200);
    letPass(31 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(303);
  });

  it('ends after SESSION_HOURS however busy it is', async () => {
    const visitor = await visitAs(gateway, passwords, 'ines');
    letPass(29 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(200);
    letPass(29 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(200);
    letPass(3 * MINUTE_MS);
    expect((await visitor.get('/desk')).status).toBe(303);
  });

  it('ends at sign-out at once, and its cookie is good for nothing any more', async () => {
    const visitor = await visitAs(gateway, passwords, 'ines');
    const answer = await visitor.post('/signin/out');
    expect([answer.status, answer.headers.get('location')]).toEqual([303, '/signin/out']);
    expect(answer.headers.get('set-cookie')).toMatch(/^session=; .*Max-Age=0$/);
    expect((await visitor.get('/desk')).status).toBe(303);
  });

  it('leaves sign-in and sign-out on record by the person, and refusals', async () => {
    const { pool } = gateway.database;
    const visitor = await visitAs(gateway, passwords, 'rafe');
    await visitor.post('/signin/out');
    const byRafe = `person_key = (select person_key from people where value = 'A-212') and entity like 'signin%'`;
    const rows = await auditRows(pool, byRafe, [], 2);
    expect(rows.map(({ action, outcome }) => [action, outcome])).toEqual([
      ['signed-in', 303],
      ['signed-out', 303],
    ]);
    const before = await auditRows(pool, `entity = 'POST /signin'`, [], 0);
    await sendForm(`${gateway.url}/signin`, { login: 'rafe', password: 'wrong' });
    const after = await auditRows(pool, `entity = 'POST /signin'`, [], before.length + 1);
    expect(after.at(-1)).toMatchObject({ action: 'signed-in-refused', outcome: 401 });
    expect(JSON.stringify(after)).not.toMatch(/rafe|wrong/);
  });
});

describe('a change from somewhere else', () => {
  it.each([
    ['without a token', {}],
    ['with an empty one', { csrf: '' }],
    ['with a made-up one', { csrf: 'A'.repeat(43) }],
  ])('is refused %s, and nothing is done', async (_name, fields) => {
    const visitor = await visitAs(gateway, passwords, 'ines');
    const answer = await sendForm(`${gateway.url}/signin/out`, fields, { cookie: visitor.cookie });
    expect(answer.status).toBe(403);
    expect((await visitor.get('/desk')).status).toBe(200);
  });

  it("is refused with another session's token", async () => {
    const [one, other] = [
      await visitAs(gateway, passwords, 'ines'),
      await visitAs(gateway, passwords, 'rafe'),
    ];
    expect((await one.post('/signin/out', { csrf: other.csrf })).status).toBe(403);
  });

  it('signs nobody in', async () => {
    const fields = { login: 'ines', password: passwords('ines') };
    const headers = { 'sec-fetch-site': 'cross-site' };
    const answer = await sendForm(`${gateway.url}/signin`, fields, headers);
    expect(answer.status).toBe(403);
    expect(answer.headers.get('set-cookie')).toBeNull();
  });
});

describe('who is not signed in', () => {
  it('is led to sign-in and back to the page', async () => {
    const answer = await open('/desk?state=waiting');
    expect([answer.status, answer.headers.get('location')]).toEqual([
      303,
      '/signin?next=%2Fdesk%3Fstate%3Dwaiting',
    ]);
    const back = await sendForm(`${gateway.url}/signin`, {
      login: 'ines',
      password: passwords('ines'),
      next: '/desk?state=waiting',
    });
    expect(back.headers.get('location')).toBe('/desk?state=waiting');
  });

  it('is told so when a script asks, or when something was to be changed', async () => {
    const script = await open('/desk', { accept: 'application/json' });
    expect([script.status, script.headers.get('content-type')]).toEqual([
      401,
      'application/problem+json',
    ]);
    const change = await sendForm(`${gateway.url}/signin/out`, {});
    expect([change.status, await change.text()]).toEqual([
      401,
      expect.stringContaining('nothing was done') as string,
    ]);
  });

  it.each([
    'https://elsewhere.example/desk',
    '//elsewhere.example/desk',
    '/\\elsewhere.example/desk',
    'javascript:alert(1)//desk',
    '/desk/..//elsewhere.example',
    '/signin/out',
    '/deskelsewhere',
    '/fhir/Patient',
    'desk\r\nSet-Cookie: a=b',
    `/desk?${'x'.repeat(3000)}`,
  ])('is not led to %.40s', async (next) => {
    const fields = { login: 'ines', password: passwords('ines'), next };
    const answer = await sendForm(`${gateway.url}/signin`, fields);
    expect([answer.status, answer.headers.get('location')]).toEqual([303, '/desk']);
  });
});

describe('sign-in by name and password', () => {
  it('sounds the same for a wrong name and a wrong password, and stops after ten failures', async () => {
    const texts = new Set<string>();
    for (let n = 0; n < 10; n += 1) {
      const fields = n % 2 === 0 ? { login: 'tobias' } : { login: 'nobody' };
      const answer = await sendForm(`${gateway.url}/signin`, { ...fields, password: 'guess' });
      expect(answer.status).toBe(401);
      texts.add(await answer.text());
    }
    expect(texts.size).toBe(1);
    for (let n = 0; n < 5; n += 1) {
      await sendForm(`${gateway.url}/signin`, { login: 'tobias', password: 'guess' });
    }
    const fields = { login: 'tobias', password: passwords('tobias') };
    expect((await sendForm(`${gateway.url}/signin`, fields)).status).toBe(429);
  });

  it('keeps no password, and no two people have the same hash', async () => {
    const { rows } = await gateway.database.pool.query<{ hash: string; row: string }>(
      `select encode(password_scrypt, 'hex') as hash, l::text as row from local_people l`,
    );
    expect(new Set(rows.map(({ hash }) => hash)).size).toBe(6);
    expect(JSON.stringify(rows)).not.toContain(passwords('ines'));
  });
});

describe('a role', () => {
  it('opens no page that it has no scope for, and the refusal is on record', async () => {
    const nurse = await visitAs(gateway, passwords, 'hazel');
    const answer = await nurse.get('/desk');
    expect([answer.status, await answer.text()]).toEqual([
      403,
      expect.stringContaining('Your role does not allow this.') as string,
    ]);
    const refused = await auditRows(
      gateway.database.pool,
      `entity = 'GET /desk' and outcome = 403`,
    );
    expect(refused.at(-1)).toMatchObject({ action: 'refused' });
  });
});

describe('the pages', () => {
  it('load nothing but files of this gateway, run nothing inline, and are kept by no browser', async () => {
    const visitor = await visitAs(gateway, passwords, 'ines');
    const answer = await visitor.get('/desk');
    expect(answer.headers.get('cache-control')).toBe('no-store');
    expect(answer.headers.get('content-security-policy')).toMatch(
      /^default-src 'none'; script-src 'self'; style-src 'self'; .*frame-ancestors 'none'$/,
    );
    const html = await answer.text();
    expect(html).not.toMatch(/<style|\sstyle=|\son[a-z]+=|<script(?![^>]*src=)/);
    const files = [...html.matchAll(/(?:src|href)="(\/assets\/[^"]+)"/g)].map(([, file]) => file);
    expect(files.length).toBeGreaterThanOrEqual(2);
    for (const file of files) {
      const asset = await fetch(`${gateway.url}${file ?? ''}`);
      expect([asset.status, asset.headers.get('cache-control')]).toEqual([
        200,
        'public, max-age=31536000, immutable',
      ]);
    }
  });

  it.each(['/assets/files.json', '/assets/..%2f..%2fpackage.json', '/assets/none.js'])(
    'give no other file: %s',
    async (path) => {
      expect((await fetch(`${gateway.url}${path}`)).status).toBe(404);
    },
  );

  it('answer unknown addresses in words for people, and as JSON for programs', async () => {
    const page = await open('/desk/nothing');
    expect([page.status, page.headers.get('content-type')]).toEqual([
      404,
      'text/html; charset=utf-8',
    ]);
    const json = await open('/desk/nothing', { accept: 'application/json' });
    expect(json.headers.get('content-type')).toBe('application/problem+json');
  });
});
