/** Chromium for tests of pages: one browser a file, a fresh context a person. */
import { existsSync } from 'node:fs';
import axe from 'axe-core';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import type { TestGateway } from './gateway.js';
import type { DemoLogin, Passwords } from './people.js';

const CHROMIUM = process.env.CHROMIUM_PATH ?? '/usr/bin/chromium';
const HAS_CHROMIUM = existsSync(CHROMIUM);

/** A block of tests that need Chromium: skipped, and said so, where there is none. */
export function describeInChromium(name: string, tests: () => void): void {
  if (!HAS_CHROMIUM) {
    console.warn(`${name}: skipped, there is no Chromium at ${CHROMIUM} (CHROMIUM_PATH).`);
  }
  (HAS_CHROMIUM ? describe : describe.skip)(name, tests);
}

/** @param args more switches of Chromium */
export function launchChromium(args: readonly string[] = []): Promise<Browser> {
  return chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', ...args] });
}

/** A page of its own browser context, signed in as a demo person and led to `path`. */
export async function signInAs(
  browser: Browser,
  { gateway, passwords }: { gateway: TestGateway; passwords: Passwords },
  login: DemoLogin,
  path: string,
  options: BrowserContextOptions = {},
): Promise<Page> {
  const context = await browser.newContext({
    baseURL: gateway.url,
    viewport: { width: 1280, height: 800 },
    ...options,
  });
  const page = await context.newPage();
  await page.goto(`/signin?next=${encodeURIComponent(path)}`);
  await page.getByLabel('Name').fill(login);
  await page.getByLabel('Password').fill(passwords(login));
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL((url) => !url.pathname.startsWith('/signin'));
  return page;
}

/** Asks axe (its rules of WCAG 2.0 to 2.2, A and AA, and best practices) about the page as it stands. */
export async function expectNoViolations(page: Page): Promise<void> {
  await page.evaluate(axe.source);
  const found = await page.evaluate(async () => {
    const { axe: inPage } = globalThis as unknown as { axe: typeof axe };
    const { violations } = await inPage.run();
    return violations.map(
      ({ id, nodes }) => `${id}: ${nodes.map((node) => node.html).join(' | ')}`,
    );
  });
  expect(found).toEqual([]);
}

/** The same in the colours of day and of night. */
export async function expectNoViolationsInAnyLight(page: Page): Promise<void> {
  for (const colorScheme of ['light', 'dark'] as const) {
    await page.emulateMedia({ colorScheme });
    await expectNoViolations(page);
  }
}
