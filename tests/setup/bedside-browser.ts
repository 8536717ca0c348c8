/** The bedside page's way to the gateway in Chromium, without its views: `door` of the page. */
import { execFileSync, spawn } from 'node:child_process';
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import type { Door } from '../../src/browser/bedside/door.js';
import type { TestGateway } from './gateway.js';
import type { DemoLogin, Passwords } from './people.js';

const CHROMIUM = process.env.CHROMIUM_PATH ?? '/usr/bin/chromium';
const ROOT = join(__dirname, '..', '..');
/** Under the scope of the service worker, beside the page itself. */
const HARNESS = '/bedside/door-alone';

let bundled: string | undefined;

/** The very modules that the page is built of, which open a door and nothing else. */
function doorScript(): string {
  bundled ??= execFileSync(
    join(ROOT, 'node_modules', '.bin', 'esbuild'),
    [
      join(ROOT, 'src/browser/bedside/open-door.ts'),
      ...['--bundle', '--format=iife', '--global-name=bedside', '--target=chrome120'],
    ],
    { encoding: 'utf8', maxBuffer: 16 * 1024 * 1024 },
  );
  return bundled;
}

/** What the page of the door has beside a page's own things; for the type of what `evaluate` runs. */
export type InPage = typeof globalThis & {
  bedside: { openDoor: () => Door };
  door: Door;
  counted: number;
};

/** Has a page of nothing but the door at the gateway's place, also without a network. */
export async function serveDoor(context: BrowserContext): Promise<void> {
  await context.route(`**${HARNESS}`, (route) =>
    route.fulfill({ contentType: 'text/html', body: '<!doctype html><title>Door</title>' }),
  );
}

/** Opens a door in the page. */
export async function openDoorIn(page: Page, gateway: TestGateway): Promise<void> {
  await page.goto(`${gateway.url}${HARNESS}`);
  await page.addScriptTag({ content: doorScript() });
  await page.evaluate(() => {
    const inPage = globalThis as InPage;
    inPage.counted = -1;
    inPage.door = inPage.bedside.openDoor();
    inPage.door.onWaiting((count) => {
      inPage.counted = count;
    });
  });
}

/** Waits until so many sets wait on the device, as the page would show. */
export async function waitForCount(page: Page, count: number): Promise<void> {
  await page.waitForFunction((wanted) => (globalThis as InPage).counted === wanted, count);
}

/** Signs a demo person in with the page of the gateway. */
export async function signIn(
  page: Page,
  { gateway, passwords }: { gateway: TestGateway; passwords: Passwords },
  login: DemoLogin,
): Promise<void> {
  await page.goto(`${gateway.url}/signin?next=${encodeURIComponent(HARNESS)}`);
  await page.getByLabel('Name').fill(login);
  await page.getByLabel('Password').fill(passwords(login));
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL((url) => !url.pathname.startsWith('/signin'));
}

/** A browser with a profile on the disk, as on a tablet, that can be killed. */
export interface Tablet {
  readonly context: BrowserContext;
  /** SIGKILL: nothing of it can tidy up. */
  readonly kill: () => Promise<void>;
}

export async function startTablet(profile: string): Promise<Tablet> {
  const portFile = join(profile, 'DevToolsActivePort');
  // One that was killed has left its own.
  rmSync(portFile, { force: true });
  const process_ = spawn(
    CHROMIUM,
    [
      ...['--headless=new', '--no-sandbox', '--no-first-run', '--disable-gpu'],
      ...['--remote-debugging-port=0', `--user-data-dir=${profile}`, 'about:blank'],
    ],
    { stdio: 'ignore', detached: true },
  );
  const port = await readPort(portFile);
  const browser: Browser = await chromium.connectOverCDP(`http://127.0.0.1:${port}`);
  const [context] = browser.contexts();
  if (context === undefined) throw new Error('the browser has no window');
  return {
    context,
    async kill() {
      if (process_.exitCode !== null || process_.signalCode !== null) return;
      const ended = new Promise((resolve) => process_.once('exit', resolve));
      if (process_.pid !== undefined) process.kill(-process_.pid, 'SIGKILL');
      await ended;
      await browser.close().catch(() => undefined);
    },
  };
}

async function readPort(file: string): Promise<string> {
  for (let turn = 0; turn < 200; turn += 1) {
    try {
      const [port] = readFileSync(file, 'utf8').split('\n');
      if (port !== undefined && port !== '') return port;
    } catch {
      // Not there yet.
    }
    await sleep(50);
  }
  throw new Error('Chromium did not start');
}
