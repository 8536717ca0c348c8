/**
 * Sign-in against a provider that runs, step by step as a browser goes: OpenID Connect Core 1.0 §3.1.2
 * (requests, answers and their checks), RFC 7636 (PKCE), RP-Initiated Logout 1.0.
 */
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { CLIENT, honest, startTestProvider } from './test-provider.js';
import type { TestProvider } from './test-provider.js';

let provider: TestProvider;
let gateway: TestGateway;

beforeAll(async () => {
  provider = await startTestProvider();
  gateway = await openTestGateway({
    SIGNIN_ISSUER: provider.issuer,
    SIGNIN_CLIENT_ID: CLIENT.id,
    SIGNIN_CLIENT_SECRET: CLIENT.secret,
    SIGNIN_PERSON_CLAIM: 'staff_number',
    SIGNIN_PERSON_SYSTEM: 'urn:example:staff',
    SIGNIN_ROLES: 'analysts=review.read review.write; ward nurses=bedside',
  });
});
afterAll(async () => {
  await gateway.close();
  await provider.close();
});
beforeEach(() => Object.assign(provider.behaviour, honest()));

/** A browser that keeps cookies of the gateway and follows one redirect at a time. */
class Browser {
  readonly #cookies = new Map<string, string>();

  async open(address: string): Promise<{ answer: Response; next: string; html: string }> {
    const url = new URL(address, gateway.url);
    const isOurs = url.origin === gateway.url;
    const cookie = [...this.#cookies].map(([name, value]) => `${name}=${value}`).join('; ');
    const headers = { accept: 'text/html', ...(isOurs && { cookie }) };
    const answer = await fetch(url, { redirect: 'manual', headers });
    for (const one of answer.headers.getSetCookie()) {
      const [, name = '', value = ''] = /^([^=]+)=([^;]*)/.exec(one) ?? [];
      if (one.includes('Max-Age=0')) this.#cookies.delete(name);
      else this.#cookies.set(name, value);
    }
    return { answer, next: answer.headers.get('location') ?? '', html: await answer.text() };
  }

  cookieNames(): string[] {
    return [...this.#cookies.keys()];
  }
}

/** From the sign-in page through the provider to our own address that it sends the browser back to. */
async function goThrough(browser: Browser, next = '/desk'): Promise<string> {
  const { next: toProvider } = await browser.open(`/signin/start?next=${encodeURIComponent(next)}`);
  return (await browser.open(toProvider)).next;
}

describe('sign-in with the provider', () => {
  it('asks by code, PKCE, state and nonce, and sends no secret through the browser', async () => {
    const { next, answer } = await new Browser().open('/signin/start');
    const asked = Object.fromEntries(new URL(next).searchParams);
    expect(asked).toEqual({
      client_id: CLIENT.id,
      response_type: 'code',
      redirect_uri: `${gateway.url}/signin/back`,
      scope: 'openid profile',
      state: expect.stringMatching(/^[\w-]{43}$/) as string,
      nonce: expect.stringMatching(/^[\w-]{43}$/) as string,
      code_challenge: expect.stringMatching(/^[\w-]{43}$/) as string,
      code_challenge_method: 'S256',
      // At a shared screen nobody is let in as the person before.
      prompt: 'login',
    });
    expect(answer.headers.get('set-cookie')).toMatch(/HttpOnly; SameSite=Lax; Max-Age=600$/);
  });

  it('leads to the page that was asked for, as the person with the scopes of the roles', async () => {
    const browser = new Browser();
    const { next } = await browser.open(await goThrough(browser, '/desk?state=waiting'));
    expect(next).toBe('/desk?state=waiting');
    expect(browser.cookieNames()).toEqual(['session']);
    const { answer, html } = await browser.open(next);
    expect(answer.status).toBe(200);
    expect(html).toContain('Ines Calder');
    const { rows } = await gateway.database.pool.query(
      'select p.system, p.value, s.scopes from sessions s join people p using (person_key)',
    );
    expect(rows).toEqual([
      { system: 'urn:example:staff', value: 'A-207', scopes: ['review.read', 'review.write'] },
    ]);
  });

  it('asks the provider for claims that the id token lacks', async () => {
    provider.behaviour.claims = { sub: 'u-2' };
    provider.behaviour.userInfo = {
      name: 'Tobias Reed',
      staff_number: 'N-318',
      groups: 'ward nurses,analysts'.split(','),
    };
    const browser = new Browser();
    await browser.open(await goThrough(browser));
    expect((await browser.open('/desk')).html).toContain('Tobias Reed');
  });

  it('shows a name with markup as the text that it is', async () => {
    provider.behaviour.claims = { ...honest().claims, name: '<img src=x onerror=alert(1)>' };
    const browser = new Browser();
    await browser.open(await goThrough(browser));
    const { html } = await browser.open('/desk');
    expect(html).toContain('&lt;img src=x');
    expect(html).not.toContain('<img');
  });

  it('offers the end of the session at the provider after sign-out', async () => {
    const { html } = await new Browser().open('/signin/out');
    const address = /href="(http[^"]+)"/.exec(html)?.[1]?.replaceAll('&amp;', '&') ?? '';
    expect(new URL(address).pathname).toBe('/end');
    expect(Object.fromEntries(new URL(address).searchParams)).toEqual({
      client_id: CLIENT.id,
      post_logout_redirect_uri: `${gateway.url}/signin/out`,
    });
  });

  it('takes no password beside it', async () => {
    const body = new URLSearchParams({ login: 'ines', password: 'x' });
    const answer = await fetch(`${gateway.url}/signin`, { method: 'POST', body });
    expect(answer.status).toBe(405);
  });
});

describe('nobody is signed in', () => {
  async function refusalOf(back: (browser: Browser) => Promise<string>): Promise<[number, string]> {
    const browser = new Browser();
    const { answer, html } = await browser.open(await back(browser));
    expect(browser.cookieNames()).not.toContain('session');
    return [answer.status, html];
  }

  it('by an answer that another browser asked for', async () => {
    const stolen = await goThrough(new Browser());
    const [status, html] = await refusalOf(() => Promise.resolve(stolen));
    expect(status).toBe(401);
    expect(html).toContain('was not begun in this browser');
  });

  it('by an answer to another attempt of the same browser', async () => {
    const [status] = await refusalOf(async (browser) => {
      const first = await goThrough(browser);
      await goThrough(browser);
      return first;
    });
    expect(status).toBe(401);
  });

  it('by an answer that came before', async () => {
    const browser = new Browser();
    const back = await goThrough(browser);
    await browser.open(back);
    expect((await browser.open(back)).answer.status).toBe(401);
  });

  it.each<[string, () => void]>([
    [
      'another issuer',
      () => (provider.behaviour.forge = (c) => ({ ...c, iss: 'https://other.example' })),
    ],
    ['another audience', () => (provider.behaviour.forge = (c) => ({ ...c, aud: 'another' }))],
    ['another nonce', () => (provider.behaviour.forge = (c) => ({ ...c, nonce: 'another' }))],
    ['an end that is past', () => (provider.behaviour.forge = (c) => ({ ...c, exp: 1_000_000 }))],
    ['a signature of a key that is not published', () => (provider.behaviour.otherKey = true)],
  ])('by an id token with %s', async (_name, misbehave) => {
    misbehave();
    const [status, html] = await refusalOf((browser) => goThrough(browser));
    expect(status).toBe(401);
    expect(html).toContain('not one to be trusted');
  });

  it('by a code that was made up', async () => {
    const [status] = await refusalOf(async (browser) => {
      const back = new URL(await goThrough(browser));
      back.searchParams.set('code', 'made-up');
      return back.href;
    });
    expect(status).toBe(401);
  });

  it('without a role that is known here, and the page says so', async () => {
    provider.behaviour.claims = { ...honest().claims, groups: ['kitchen'] };
    const [status, html] = await refusalOf((browser) => goThrough(browser));
    expect(status).toBe(403);
    expect(html).toContain('no role of yours that is known here');
  });

  it.each([undefined, 7, '', 'long '.repeat(60), 'line\nbreak'])(
    'whose identifier cannot be kept (%.12j)',
    async (value) => {
      provider.behaviour.claims = { ...honest().claims, staff_number: value };
      const [status, html] = await refusalOf((browser) => goThrough(browser));
      expect(status).toBe(403);
      expect(html).toContain('does not tell who you are');
    },
  );

  it('when the provider refuses: its words are shown, as text', async () => {
    provider.behaviour.refuse = { error: 'access_denied', description: 'You <b>cancelled</b>.' };
    const [status, html] = await refusalOf((browser) => goThrough(browser));
    expect(status).toBe(403);
    expect(html).toContain('access_denied You &lt;b>cancelled&lt;/b>.');
  });
});

describe('a provider that is away', () => {
  it('is named as the cause, and people learn that they are signed out all the same', async () => {
    const gone = await startTestProvider();
    const other = await openTestGateway({
      SIGNIN_ISSUER: gone.issuer,
      SIGNIN_CLIENT_ID: CLIENT.id,
      SIGNIN_CLIENT_SECRET: CLIENT.secret,
      SIGNIN_ROLES: 'analysts=review.read',
    });
    await gone.close();
    const start = await fetch(`${other.url}/signin/start`, { redirect: 'manual' });
    expect([start.status, await start.text()]).toEqual([
      503,
      expect.stringContaining('does not answer just now') as string,
    ]);
    expect((await fetch(`${other.url}/signin/out`)).status).toBe(200);
    await other.close();
  });
});
