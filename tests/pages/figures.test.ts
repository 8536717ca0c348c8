import type { Browser, Page } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
  signInAs,
} from '../setup/browser.js';
import { fillWithDemo } from '../setup/demo-wards.js';
import { openTestGateway, type TestGateway } from '../setup/gateway.js';
import { registerPeople, type Passwords } from '../setup/people.js';

describeInChromium('pages of figures in a browser', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let browser: Browser;
  let page: Page;
  const complaints: string[] = [];

  beforeAll(async () => {
    gateway = await openTestGateway({}, { localSignIn: true });
    passwords = await registerPeople(gateway);
    await fillWithDemo(gateway);
    browser = await launchChromium();
    page = await signInAs(browser, { gateway, passwords }, 'odette', '/desk');
    page.on('console', (message) => complaints.push(message.text()));
  }, 60_000);
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  it('lead from all devices to the one that has moved, without a word in the console', async () => {
    await page.getByRole('link', { name: 'Agreement' }).click();
    await expectNoViolationsInAnyLight(page);
    await page.getByRole('link', { name: 'BP-7' }).click();
    expect(await page.getByText('The difference has risen').isVisible()).toBe(true);
    expect(await page.getByRole('img', { name: 'Drift of the device' }).isVisible()).toBe(true);
    await expectNoViolationsInAnyLight(page);
    expect(complaints).toEqual([]);
  });

  it('can be asked by keyboard alone, and stay asked', async () => {
    await page.goto('/desk/agreement');
    await page.getByLabel('Compared').focus();
    await page.getByLabel('Compared').selectOption('Pulse');
    await page.getByRole('button', { name: 'Show' }).press('Enter');
    await page.waitForURL(/sign=pulse/);
    expect(await page.getByLabel('Compared').inputValue()).toBe('pulse');
    expect(await page.getByText('oximeter less fingers').first().isVisible()).toBe(true);
  });

  it('draw in the colours of the style sheet, and within the window of a tablet', async () => {
    await page.setViewportSize({ width: 820, height: 1180 });
    await page.goto('/desk/agreement');
    const chart = page.getByRole('img', { name: /difference against mean/ });
    const box = await chart.boundingBox();
    expect((box?.x ?? 0) + (box?.width ?? 0)).toBeLessThanOrEqual(820);
    const colour = await chart
      .locator('.chart-first circle')
      .first()
      .evaluate((dot) => getComputedStyle(dot).fill);
    expect(colour).not.toBe('rgb(0, 0, 0)');
    const scrolls = await page.evaluate(
      () => document.documentElement.scrollWidth > document.documentElement.clientWidth,
    );
    expect(scrolls).toBe(false);
    await page.setViewportSize({ width: 1280, height: 800 });
  });

  it('show entry habits, and print without the form', async () => {
    await page.goto('/desk/habits');
    await expectNoViolationsInAnyLight(page);
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('button', { name: 'Show' }).isVisible()).toBe(false);
    expect(await page.getByText('What the figures mean').isVisible()).toBe(true);
    await page.emulateMedia({ media: 'screen' });
    expect(complaints).toEqual([]);
  });
});
