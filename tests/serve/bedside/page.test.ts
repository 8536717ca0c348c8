/** The document of the bedside page, its service worker, and what they may be kept as. */
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { registerPeople, visitAs } from '../../setup/people.js';
import type { Passwords } from '../../setup/people.js';

let gateway: TestGateway;
let passwords: Passwords;

beforeAll(async () => {
  gateway = await openTestGateway(
    { BEDSIDE_UNITS: 'body-temperature=[degF]', SITE_ZONE: 'Europe/Vienna' },
    { localSignIn: true },
  );
  passwords = await registerPeople(gateway);
});
afterAll(() => gateway.close());

/** What the worker says it keeps. */
async function keptByWorker(): Promise<{ version: string; page: string; files: string[] }> {
  const { text } = await gateway.ask('/bedside/worker.js');
  const [, json] = /^self\.KEPT = (.*);\n/.exec(text) ?? [];
  return JSON.parse(json ?? '') as { version: string; page: string; files: string[] };
}

describe('the document', () => {
  it('is the same for everybody, runs nothing inline, and is asked for anew each time', async () => {
    const { status, headers, text } = await gateway.ask('/bedside');
    expect(status).toBe(200);
    expect(headers.get('cache-control')).toBe('no-cache');
    expect(headers.get('set-cookie')).toBeNull();
    expect(headers.get('permissions-policy')).toBe('camera=(self)');
    expect(headers.get('content-security-policy')).toContain("default-src 'none'");
    expect(headers.get('content-security-policy')).not.toContain('unsafe');
    expect(text).not.toMatch(/<script(?![^>]*\ssrc=)|style=|\son\w+=/);
    const { get } = await visitAs(gateway, passwords, 'hazel');
    expect(await (await get('/bedside')).text()).toBe(text);
  });

  it('names only files that there are, and browsers get them compressed', async () => {
    const { text } = await gateway.ask('/bedside');
    const addresses = [...text.matchAll(/(?:href|src)="([^"]+)"/g)].map(([, address]) => address);
    expect(addresses.length).toBeGreaterThanOrEqual(4);
    for (const address of addresses) {
      const answer = await gateway.ask(address ?? '', { headers: { 'accept-encoding': 'gzip' } });
      expect(answer.status).toBe(200);
      if (address?.endsWith('.js')) expect(answer.headers.get('content-encoding')).toBe('gzip');
    }
  });
});

describe('the service worker', () => {
  it('lies at an address that stays, may serve the page, and is never kept by browsers', async () => {
    const { status, headers } = await gateway.ask('/bedside/worker.js');
    expect(status).toBe(200);
    expect(headers.get('content-type')).toContain('text/javascript');
    expect(headers.get('cache-control')).toBe('no-cache');
    expect(headers.get('service-worker-allowed')).toBe('/bedside');
  });

  it('keeps the page and the files that the build made for it, and nothing that answers about a patient', async () => {
    const { page, files, version } = await keptByWorker();
    expect(page).toBe('/bedside');
    expect(version).toMatch(/^[\w-]{16}$/);
    const [lines, others] = [
      files.filter((file) => file.startsWith('/assets/')),
      files.filter((file) => !file.startsWith('/assets/')),
    ];
    expect(lines.length).toBeGreaterThanOrEqual(3);
    expect(others).toEqual(['/bedside/manifest.webmanifest']);
    for (const file of files) expect((await gateway.ask(file)).status).toBe(200);
  });
});

describe('the session', () => {
  it('is told to the page of somebody who may use it', async () => {
    const { cookie, csrf } = await visitAs(gateway, passwords, 'hazel');
    const { status, headers, body } = await gateway.ask<{ person: object; name: string }>(
      '/bedside/session',
      { headers: { cookie } },
    );
    expect(status).toBe(200);
    expect(headers.get('cache-control')).toBe('no-store');
    expect(body).toEqual({
      person: { system: 'urn:example:staff', value: 'N-311' },
      ...{ name: 'Hazel Brook', csrf },
    });
  });

  it('is refused as a problem that a script reads where there is none, and where the role is another', async () => {
    const script = { 'sec-fetch-mode': 'cors', accept: '*/*' };
    const nobody = await gateway.ask('/bedside/session', { headers: script });
    expect(nobody.status).toBe(401);
    expect(nobody.headers.get('content-type')).toBe('application/problem+json');
    const { cookie } = await visitAs(gateway, passwords, 'ines');
    const analyst = await gateway.ask('/bedside/session', { headers: { ...script, cookie } });
    expect(analyst.status).toBe(403);
  });
});

describe('the site', () => {
  it('is told with what is judged by', async () => {
    const token = await gateway.token('bedside');
    const { body } = await gateway.ask('/bedside/site', { token });
    expect(body).toEqual({
      zone: 'Europe/Vienna',
      units: { 'body-temperature': '[degF]' },
      identifierSystems: [],
      idleMinutes: 5,
      edition: '1',
      rules: {},
    });
  });
});
