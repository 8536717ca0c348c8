/** What the service worker of the bedside page keeps, what it serves without a network, and how a next one comes. */
import { createServer, request } from 'node:http';
import type { Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Browser, Page } from 'playwright-core';
import { describeInChromium, launchChromium, signInAs } from '../setup/browser.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';

/** Every address that the browser keeps for the page, by cache. */
const keptAddresses = (page: Page) =>
  page.evaluate(async () => {
    const kept: Record<string, string[]> = {};
    for (const name of await caches.keys()) {
      const requests = await (await caches.open(name)).keys();
      kept[name] = requests.map(({ url }) => new URL(url).pathname).sort();
    }
    return kept;
  });

/** Resolves when the page's worker has kept everything. */
const workerReady = (page: Page) =>
  page.evaluate(async () => {
    await navigator.serviceWorker.ready;
  });

const isShown = (page: Page) => page.waitForSelector('#bedside > :not(noscript)');

describeInChromium('the service worker of the bedside page', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let browser: Browser;

  beforeAll(async () => {
    gateway = await openTestGateway({}, { localSignIn: true });
    passwords = await registerPeople(gateway);
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  it('keeps the page and its files, and no answer that was asked for', async () => {
    const page = await signInAs(browser, { gateway, passwords }, 'hazel', '/bedside');
    await workerReady(page);
    await page.reload();
    await isShown(page);
    await page.evaluate(async () => {
      for (const path of ['/bedside/session', '/bedside/site', '/sets', '/fhir/metadata']) {
        await fetch(path);
      }
    });
    const [name, ...others] = Object.keys(await keptAddresses(page));
    expect(name).toMatch(/^bedside-/);
    expect(others).toEqual([]);
    const { text } = await gateway.ask('/bedside/worker.js');
    const { files } = JSON.parse(/^self\.KEPT = (.*);\n/.exec(text)?.[1] ?? '') as {
      files: string[];
    };
    expect(Object.values(await keptAddresses(page))).toEqual([['/bedside', ...files].sort()]);
    await page.context().close();
  });

  it('opens the page without a network, also in a tab that was not there before', async () => {
    const page = await signInAs(browser, { gateway, passwords }, 'hazel', '/bedside');
    await workerReady(page);
    await page.context().setOffline(true);
    const next = await page.context().newPage();
    await next.goto('/bedside');
    await isShown(next);
    // Nothing but the page itself comes without one.
    const other = await next.evaluate(() => fetch('/bedside/session').catch(() => 'no network'));
    expect(other).toBe('no network');
    await page.context().close();
  });

  describe('when a newer page is there', () => {
    let server: Server;
    let newer = false;

    /** The gateway as it is, and as it would be after an update. */
    beforeAll(async () => {
      server = createServer((req, res) => {
        const { headers, method, url = '/' } = req;
        const asked = request(`${gateway.url}${url}`, { method, headers }, (answer) => {
          if (!newer || url !== '/bedside/worker.js') {
            res.writeHead(answer.statusCode ?? 500, answer.headers);
            answer.pipe(res);
            return;
          }
          const chunks: Buffer[] = [];
          answer.on('data', (chunk: Buffer) => chunks.push(chunk));
          answer.on('end', () => {
            const text = Buffer.concat(chunks)
              .toString()
              .replace('"version":"', '"version":"next-');
            delete answer.headers['content-length'];
            res.writeHead(answer.statusCode ?? 500, answer.headers);
            res.end(text);
          });
        });
        req.pipe(asked);
      });
      await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    });
    afterAll(async () => {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    });

    it('waits until the page takes it, and longer while another tab is open; the old files go then', async () => {
      const baseURL = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
      const page = await signInAs(browser, { gateway, passwords }, 'hazel', '/bedside', {
        baseURL,
      });
      const context = page.context();
      await workerReady(page);
      const other = await context.newPage();
      await other.goto('/bedside');
      newer = true;
      const waits = await page.evaluate(async () => {
        const registration = await navigator.serviceWorker.ready;
        await registration.update();
        while (registration.waiting === null) await new Promise((done) => setTimeout(done, 20));
        return { active: registration.active?.state, waiting: registration.waiting.state };
      });
      expect(waits).toEqual({ active: 'activated', waiting: 'installed' });
      expect(Object.keys(await keptAddresses(page))).toHaveLength(2);
      const take = () =>
        page.evaluate(async () => {
          const registration = await navigator.serviceWorker.ready;
          registration.waiting?.postMessage('take-over');
          await new Promise((done) => setTimeout(done, 200));
          return registration.waiting === null;
        });
      expect(await take()).toBe(false);
      await other.close();
      // The browser takes a moment to notice that the tab is gone.
      while (!(await take()));
      const left = await page.evaluate(async () => {
        for (;;) {
          const names = await caches.keys();
          if (names.length === 1) return names;
          await new Promise((done) => setTimeout(done, 20));
        }
      });
      expect(left).toEqual([expect.stringMatching(/^bedside-next-/)]);
      await context.close();
    });
  });
});
